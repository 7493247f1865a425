"""Acts on authorisations: who may do what with which family, from when on. A withdrawal is a row too."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import ClassVar

from labsys.accounts.access import MANAGE_PEOPLE
from labsys.accounts.models import Activity, Authorisation, Person
from labsys.accounts.queries import rows_to_withdraw
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.reasons import given
from labsys.journal.roles import require
from labsys.laboratory.models import Family
from labsys.laboratory.queries import local_date


class AccountClosed(LabError):
    """Somebody without an account can't be given anything to do."""

    code: ClassVar[str] = "account-closed"
    sentence: ClassVar[str] = "The account of {name} is closed. Open it again first."


class LapsesBeforeItBegins(LabError, ValueError):
    """The last day lies before the first."""

    code: ClassVar[str] = "lapses-before-it-begins"
    sentence: ClassVar[str] = (
        "The authorisation begins on {begins} and would lapse on {lapses}. Give a last day that comes later."
    )
    field: ClassVar[str | None] = "lapses_on"


class NotHeld(LabError):
    """There is no authorisation to withdraw."""

    code: ClassVar[str] = "not-held"
    sentence: ClassVar[str] = (
        "{name} holds no authorisation to {activity} for the family {family}, so there is nothing to withdraw."
    )


@dataclass(frozen=True)
class Grant:
    """An authorisation as asked for: who, what, which family, how long, on what evidence."""

    person: Person
    activity: Activity
    family: Family
    lapses_on: date | None = None
    supervised: bool = False
    evidence: str = ""


@act("accounts.authorise")
def authorise(*, grant: Grant, valid_from: datetime, by: Acting, now: datetime) -> Authorisation:
    """Record that a person may do an activity with a family, from an instant on, through ``lapses_on``.

    Raises AccountClosed, LapsesBeforeItBegins.
    """
    require(by, MANAGE_PEOPLE)
    _refuse_impossible(grant, valid_from)
    row = Authorisation(valid_from=valid_from, recorded_at=now, granted_by=by.as_actor().name, **vars(grant))
    row.full_clean()
    row.save()
    note(
        f"person:{grant.person.pk}",
        after={
            "authorisation": row.pk,
            "activity": str(grant.activity),
            "family": grant.family.code,
            "valid_from": valid_from,
            "lapses_on": grant.lapses_on,
            "supervised": grant.supervised,
            "evidence": grant.evidence,
        },
    )
    return row


def _refuse_impossible(grant: Grant, valid_from: datetime) -> None:
    subject, begins = f"person:{grant.person.pk}", local_date(valid_from)
    if not grant.person.is_active:
        raise AccountClosed(name=grant.person.name, subject=subject)
    if grant.lapses_on is not None and grant.lapses_on < begins:
        raise LapsesBeforeItBegins(
            begins=begins.isoformat(), lapses=grant.lapses_on.isoformat(), subject=subject
        )


@act("accounts.withdraw-authorisation")
def withdraw_authorisation(
    *, person: Person, activity: Activity, family: Family, reason: str, by: Acting, now: datetime
) -> Authorisation:
    """End an authorisation by a row that withdraws it; one that was to begin later never does.

    Raises ReasonMissing, NotHeld.
    """
    require(by, MANAGE_PEOPLE)
    subject = f"person:{person.pk}"
    why = given(reason, what="Withdrawing an authorisation", subject=subject)
    ends = rows_to_withdraw(person, activity, family, now)
    if not ends:
        activity_label = Activity(activity).label
        raise NotHeld(name=person.name, activity=activity_label, family=family.name.lower(), subject=subject)
    rows = [
        Authorisation.objects.create(
            person=person,
            activity=activity,
            family=family,
            valid_from=at,
            recorded_at=now,
            reason=why,
            withdrawn=True,
            granted_by=by.as_actor().name,
        )
        for at in ends
    ]
    note(subject, reason=why, after={"withdrawn": str(activity), "family": family.code})
    return rows[0]
