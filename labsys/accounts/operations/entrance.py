"""Acts on how a person gets in: passwords, ways in, the second factor, sign-ins, own settings."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from allauth.account.forms import EmailAwarePasswordResetTokenGenerator
from allauth.account.utils import user_pk_to_url_str
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession

from labsys.accounts.access import MANAGE_PEOPLE
from labsys.accounts.models import Person
from labsys.accounts.operations.authorisations import AccountClosed
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.reasons import changed, given
from labsys.journal.roles import require


class NoSecondFactor(LabError):
    """There is nothing to take off."""

    code: ClassVar[str] = "no-second-factor"
    sentence: ClassVar[str] = "{name} signs in without a second factor, so there is none to take off."


class NotSignedIn(LabError):
    """There is no sign-in to end."""

    code: ClassVar[str] = "not-signed-in"
    sentence: ClassVar[str] = "{name} is signed in nowhere, so there is nothing to end."


@dataclass(frozen=True)
class WayIn:
    """What opens the page on which a person sets a password: good once, for a day, never stored."""

    uid: str
    token: str


@act("accounts.offer-way-in")
def offer_way_in(*, person: Person, lock: bool, reason: str, by: Acting, now: datetime) -> WayIn:
    """Make a way in for somebody who has no password, or has forgotten it; it goes from hand to hand, not by mail.

    It dies with its use, with any sign-in, and after a day. With ``lock`` the old password stops working at once and
    the sign-ins end: for a password somebody else may know. Raises ReasonMissing, AccountClosed.
    """
    require(by, MANAGE_PEOPLE)
    subject = f"person:{person.pk}"
    why = given(reason, what="A way in", subject=subject)
    row = Person.objects.select_for_update().get(pk=person.pk)
    if not row.is_active:
        raise AccountClosed(name=row.name, subject=subject)
    if lock:
        row.set_unusable_password()
        row.save(update_fields=["password"])
        end_sign_ins_of(row)
    note(subject, reason=why, after={"way_in": "offered", "old_password": "locked" if lock else "kept"})
    return WayIn(user_pk_to_url_str(row), EmailAwarePasswordResetTokenGenerator().make_token(row))


@act("accounts.set-password")
def set_password(*, password: str, by: Person, now: datetime) -> None:
    """Give ``by`` a new password of their own; every other sign-in of theirs ends with it."""
    by.set_password(password)
    by.save(update_fields=["password"])
    note(f"person:{by.pk}", after={"password": "set anew"})


@act("accounts.take-off-second-factor")
def take_off_second_factor(*, person: Person, reason: str, by: Acting, now: datetime) -> None:
    """Take the second factor off for somebody who lost it, after seeing them; raises ReasonMissing, NoSecondFactor."""
    require(by, MANAGE_PEOPLE)
    subject = f"person:{person.pk}"
    why = given(reason, what="Taking a second factor off", subject=subject)
    count, _ = Authenticator.objects.filter(user=person).delete()
    if not count:
        raise NoSecondFactor(name=person.name, subject=subject)
    note(subject, reason=why, before={"second_factor": "on"}, after={"second_factor": "taken off"})


@act("accounts.change-second-factor")
def record_second_factor(*, what: str, by: Person, now: datetime) -> None:
    """Record what a person did to their own second factor (such as “totp added”); the sign-in library has done it."""
    note(f"person:{by.pk}", after={"second_factor": what})


@act("accounts.end-sign-ins")
def end_sign_ins(*, person: Person, reason: str, by: Acting, now: datetime) -> int:
    """End every sign-in of a person, on all devices; gives how many. Raises ReasonMissing, NotSignedIn."""
    require(by, MANAGE_PEOPLE)
    subject = f"person:{person.pk}"
    why = given(reason, what="Ending sign-ins", subject=subject)
    count = end_sign_ins_of(person)
    if not count:
        raise NotSignedIn(name=person.name, subject=subject)
    note(subject, reason=why, after={"sign_ins_ended": count})
    return count


def end_sign_ins_of(person: Person) -> int:
    """End every sign-in of a person as a part of an act; gives how many there were."""
    found = list(UserSession.objects.filter(user=person))
    for session in found:
        session.end()
    return len(found)


@act("accounts.change-settings")
def change_settings(*, hand: str, email: str, by: Person, now: datetime) -> Person:
    """Change one's own settings: the hand that holds the tablet's keys, and where reminders go.

    Raises NothingChanged, ValidationError.
    """
    subject = f"person:{by.pk}"
    row = Person.objects.select_for_update().get(pk=by.pk)
    before = {"hand": row.hand, "email": row.email}
    row.hand, row.email = hand, email
    after = {"hand": row.hand, "email": row.email}
    old, new = changed(before, after, what="your settings", subject=subject)
    row.clean_fields(exclude=["password"])
    row.save(update_fields=["hand", "email"])
    note(subject, before=old, after=new)
    return row
