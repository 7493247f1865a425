"""Who may do what with people's records, and the check of authorisations that every technical act makes."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from labsys.accounts.models import Activity, Authorisation, Person
from labsys.accounts.queries import authorisation_in_force
from labsys.errors import LabError
from labsys.journal.roles import Role, permission
from labsys.laboratory.models import Family
from labsys.laboratory.queries import local_date

MANAGE_PEOPLE = permission(
    "manage_people", "Register people, roles and authorisations", Role.ADMINISTRATOR, Role.MANAGER
)


class NotAuthorised(LabError, PermissionError):
    """No authorisation for this activity and family is in force at the moment."""

    code: ClassVar[str] = "not-authorised"
    sentence: ClassVar[str] = (
        "{name} is not authorised to {activity} for the family {family} on {day}. "
        "Have an authorisation recorded first, or ask somebody who holds one."
    )


def require_authorised(person: Person, activity: Activity, family: Family, at: datetime) -> Authorisation:
    """Refuse unless ``person`` holds an authorisation for the activity and family, in force at that instant."""
    row = authorisation_in_force(person, activity, family, at) if person.is_active else None
    if row is None:
        raise NotAuthorised(
            name=person.name,
            activity=activity.label,
            family=family.name.lower(),
            day=f"{local_date(at):%Y-%m-%d}",
        )
    return row
