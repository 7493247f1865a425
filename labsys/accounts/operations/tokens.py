"""Acts on tokens: keys with which programs read in a person's name."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime
from typing import ClassVar

from labsys.accounts.access import MANAGE_PEOPLE
from labsys.accounts.models import ApiToken, Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.laboratory.queries import local_date


class TokenNotYours(LabError, PermissionError):
    """Somebody revoked a token that reads in another person's name."""

    code: ClassVar[str] = "token-not-yours"
    sentence: ClassVar[str] = (
        "The token “{token}” belongs to {owner}. Ask them, or whoever manages people, to revoke it."
    )


class TokenRevoked(LabError):
    """The token was revoked before."""

    code: ClassVar[str] = "token-revoked"
    sentence: ClassVar[str] = "The token “{token}” was revoked on {day} already."


@act("accounts.issue-token")
def issue_token(*, token_name: str, by: Person, now: datetime) -> tuple[ApiToken, str]:
    """Make a token with which a program reads in the name of ``by``; gives the row and the text, shown this once.

    Raises ValidationError for a name in use.
    """
    text = f"lab_{secrets.token_urlsafe(32)}"
    row = ApiToken(person=by, name=token_name.strip(), token_sha256=hash_of_token(text), created_at=now)
    row.clean_fields(exclude=["last_used_on", "revoked_at"])
    row.validate_constraints()
    row.save()
    note(f"person:{by.pk}", after={"token": row.pk, "name": row.name})
    return row, text


@act("accounts.revoke-token")
def revoke_token(*, token: ApiToken, by: Person, now: datetime) -> None:
    """End a token: its owner may, and whoever manages people. Raises TokenNotYours, TokenRevoked."""
    subject = f"person:{token.person_id}"
    if token.person_id != by.pk and not by.may(MANAGE_PEOPLE):
        raise TokenNotYours(token=token.name, owner=token.person.name, subject=subject)
    row = ApiToken.objects.select_for_update().get(pk=token.pk)
    if row.revoked_at is not None:
        raise TokenRevoked(token=row.name, day=f"{local_date(row.revoked_at):%Y-%m-%d}", subject=subject)
    row.revoked_at = now
    row.save(update_fields=["revoked_at"])
    note(subject, before={"token": row.pk, "name": row.name}, after={"revoked": row.pk})


def note_use(token: ApiToken, *, now: datetime) -> None:
    """Remember the last day a token was used; one write a day, no act: nothing about the laboratory changes."""
    today = local_date(now)
    if token.last_used_on != today:
        ApiToken.objects.filter(pk=token.pk).exclude(last_used_on=today).update(last_used_on=today)


def hash_of_token(text: str) -> str:
    """Compute what is kept of a token. It has 256 random bits, so a plain hash can't be searched through."""
    return hashlib.sha256(text.encode()).hexdigest()
