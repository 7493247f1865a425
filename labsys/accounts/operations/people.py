"""Acts on people: registering, correcting, roles, closing an account and opening it again."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from django.contrib.auth.models import Group
from django.core.exceptions import ValidationError

from labsys.accounts.access import MANAGE_PEOPLE
from labsys.accounts.models import ApiToken, Person
from labsys.accounts.operations.authorisations import withdraw_authorisation
from labsys.accounts.operations.entrance import end_sign_ins_of
from labsys.accounts.queries import held_by, keepers
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.reasons import NothingChanged, changed, given
from labsys.journal.roles import Role, require
from labsys.laboratory.models import Department

USERNAME = re.compile(r"[a-z0-9][a-z0-9.-]{0,59}")


class NobodyLeft(LabError):
    """The last person who could manage people was to lose that."""

    code: ClassVar[str] = "nobody-left"
    sentence: ClassVar[str] = (
        "After this nobody could manage people any more. Give somebody else the role of manager or administrator first."
    )


class OwnAccount(LabError):
    """People don't close the account they are signed in with."""

    code: ClassVar[str] = "own-account"
    sentence: ClassVar[str] = "You can't close your own account. Ask somebody else who manages people."


@act("accounts.register-person")
def register_person(
    *,
    username: str,
    name: str,
    email: str,
    password: str | None,
    roles: tuple[Role, ...],
    department: Department | None,
    by: Acting,
    now: datetime,
) -> Person:
    """Give somebody an account with roles; without a password they set one themselves by a way in.

    User names are kept in small letters and never given twice. Raises ValidationError.
    """
    require(by, MANAGE_PEOPLE)
    person = Person(
        username=readable(username), name=name.strip(), email=email, department=department, date_joined=now
    )
    person.set_password(password)
    person.full_clean(exclude=["password"])
    person.save()
    person.groups.set(_groups(roles))
    note(f"person:{person.pk}", after={"username": person.username, **_described(person, roles)})
    return person


def readable(username: str) -> str:
    """Give a user name in small letters; raises ValidationError for one that is hard to type or to read out."""
    cleaned = username.strip().lower()
    if not USERNAME.fullmatch(cleaned):
        sentence = "A user name has small letters, figures, points and hyphens, and begins with one of the first two."
        raise ValidationError({"username": sentence})
    return cleaned


@dataclass(frozen=True)
class PersonData:
    """What is written about a person besides roles and authorisations."""

    name: str
    email: str
    department: Department | None


@act("accounts.change-person")
def change_person(*, person: Person, data: PersonData, reason: str, by: Acting, now: datetime) -> Person:
    """Correct what is written about a person; records made before keep the name of their time.

    Raises ReasonMissing, NothingChanged, ValidationError.
    """
    require(by, MANAGE_PEOPLE)
    subject = f"person:{person.pk}"
    why = given(reason, what="A change of what is written about a person", subject=subject)
    row = Person.objects.select_for_update().get(pk=person.pk)
    before = _described(row)
    row.name, row.email, row.department = data.name.strip(), data.email, data.department
    old, new = changed(before, _described(row), what=row.name, subject=subject)
    row.full_clean(exclude=["password"])
    row.save(update_fields=["name", "email", "department"])
    note(subject, reason=why, before=old, after=new)
    return row


@act("accounts.set-roles")
def set_roles(*, person: Person, roles: tuple[Role, ...], reason: str, by: Acting, now: datetime) -> None:
    """Change what a person may do; raises ReasonMissing, NothingChanged, NobodyLeft."""
    require(by, MANAGE_PEOPLE)
    subject = f"person:{person.pk}"
    why = given(reason, what="A change of roles", subject=subject)
    _hold_keepers()
    before = sorted(person.groups.values_list("name", flat=True))
    after = sorted(str(role) for role in roles)
    if before == after:
        raise NothingChanged(what=f"the roles of {person.name}", subject=subject)
    person.groups.set(_groups(roles))
    _refuse_nobody_left(subject)
    note(subject, reason=why, before={"roles": before}, after={"roles": after})


@act("accounts.deactivate")
def deactivate(*, person: Person, reason: str, by: Acting, now: datetime) -> None:
    """Close an account: authorisations are withdrawn, tokens revoked, the password and every sign-in ended.

    The person stays in every record.

    Raises ReasonMissing, NothingChanged, OwnAccount, NobodyLeft.
    """
    require(by, MANAGE_PEOPLE)
    subject = f"person:{person.pk}"
    why = given(reason, what="Closing an account", subject=subject)
    if by.as_actor().id == subject:
        raise OwnAccount(subject=subject)
    _hold_keepers()
    _set_active(person, False, subject)
    _refuse_nobody_left(subject)
    for activity, family in held_by(person, now):
        withdraw_authorisation(person=person, activity=activity, family=family, reason=why, by=by, now=now)
    ended = {
        "tokens": ApiToken.objects.filter(person=person, revoked_at=None).update(revoked_at=now),
        "sign_ins": end_sign_ins_of(person),
    }
    note(subject, reason=why, before={"is_active": True}, after={"is_active": False, "ended": ended})


@act("accounts.reactivate")
def reactivate(*, person: Person, reason: str, by: Acting, now: datetime) -> None:
    """Open a closed account again; it wants a way in and authorisations anew. Raises ReasonMissing, NothingChanged."""
    require(by, MANAGE_PEOPLE)
    subject = f"person:{person.pk}"
    why = given(reason, what="Opening an account again", subject=subject)
    _set_active(person, True, subject)
    note(subject, reason=why, before={"is_active": False}, after={"is_active": True})


def _set_active(person: Person, wanted: bool, subject: str) -> None:
    row = Person.objects.select_for_update().get(pk=person.pk)
    if row.is_active == wanted:
        raise NothingChanged(what=f"the account of {person.name}", subject=subject)
    row.is_active = wanted
    # Without its password no sign-in of before holds, not even one that nobody knows of.
    row.set_unusable_password()
    row.save(update_fields=["is_active", "password"])
    person.is_active = wanted


def _groups(roles: tuple[Role, ...]) -> Any:
    return Group.objects.filter(name__in=[role.value for role in roles])


def _described(person: Person, roles: tuple[Role, ...] | None = None) -> dict[str, Any]:
    said = {"name": person.name, "email": person.email, "department": str(person.department or "")}
    return said if roles is None else {**said, "roles": [str(role) for role in roles]}


def _hold_keepers() -> None:
    """Hold everybody who manages people, so that two of them don't end each other in the same moment."""
    list(Person.objects.select_for_update().filter(pk__in=keepers().values("pk")).order_by("pk"))


def _refuse_nobody_left(subject: str) -> None:
    if not keepers().exists():
        raise NobodyLeft(subject=subject)
