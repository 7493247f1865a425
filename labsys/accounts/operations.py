"""Acts on people: registering, roles, authorisations, signing in again and signing."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import ClassVar

from django.contrib.auth.models import Group
from django.core.cache import cache

from labsys.accounts.access import MANAGE_PEOPLE
from labsys.accounts.models import Activity, ApiToken, Authorisation, Person, Signature
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import Role, require
from labsys.laboratory.models import Department, Family
from labsys.laboratory.queries import local_date

PROOF_LASTS = timedelta(minutes=2)
TRIES, TRIES_WINDOW_S = 5, 300


class WrongPassword(LabError, PermissionError):
    """Signing in again failed."""

    code: ClassVar[str] = "wrong-password"
    sentence: ClassVar[str] = "The password is not right, so nothing was signed. Type it again."
    field: ClassVar[str | None] = "password"


class TooManyTries(LabError, PermissionError):
    """Signing in again failed too often."""

    code: ClassVar[str] = "too-many-tries"
    sentence: ClassVar[str] = "The password was wrong {tries} times. Wait five minutes, then try again."
    field: ClassVar[str | None] = "password"


class ProofTooOld(LabError, PermissionError):
    """The person signed in again too long ago, or somebody else did."""

    code: ClassVar[str] = "proof-too-old"
    sentence: ClassVar[str] = "Signing needs your password again, at the moment you sign."
    field: ClassVar[str | None] = "password"


@dataclass(frozen=True)
class SignInProof:
    """That a person gave their password again, at an instant; good for one short sitting of signing."""

    person_id: int
    at: datetime


def sign_in_again(*, person: Person, password: str, now: datetime) -> SignInProof:
    """Check the password once more before a signature; raises WrongPassword, or TooManyTries after five misses."""
    key = f"sign-in-again:{person.pk}"
    misses = cache.get(key, 0)
    if misses >= TRIES:
        raise TooManyTries(tries=TRIES)
    if not person.is_active or not person.check_password(password):
        cache.set(key, misses + 1, TRIES_WINDOW_S)
        raise WrongPassword()
    cache.delete(key)
    return SignInProof(person.pk, now)


@act("accounts.sign")
def sign(
    *,
    meaning: Signature.Meaning,
    subject: str,
    record_sha256: str,
    proof: SignInProof,
    by: Person,
    now: datetime,
) -> Signature:
    """Put a meaning to the hash of a record, in the name of ``by``, who has just signed in again."""
    if proof.person_id != by.pk or not timedelta(0) <= now - proof.at <= PROOF_LASTS:
        raise ProofTooOld()
    actor = by.as_actor()
    row = Signature.objects.create(
        person=by,
        name=actor.name,
        role=actor.role,
        meaning=meaning,
        subject=subject,
        record_sha256=record_sha256,
        signed_at=now,
        signed_in_again_at=proof.at,
    )
    note(subject, after={"signature": row.pk, "meaning": str(meaning), "record_sha256": record_sha256})
    return row


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
    """Give somebody an account with roles; the password may be set later by themselves."""
    require(by, MANAGE_PEOPLE)
    person = Person(username=username, name=name, email=email, department=department, date_joined=now)
    person.set_password(password)
    person.full_clean(exclude=["password"])
    person.save()
    person.groups.set(Group.objects.filter(name__in=[role.value for role in roles]))
    note(f"person:{person.pk}", after={"username": username, "name": name, "roles": [str(r) for r in roles]})
    return person


@act("accounts.set-roles")
def set_roles(*, person: Person, roles: tuple[Role, ...], reason: str, by: Acting, now: datetime) -> None:
    """Change what a person may do; a reason is part of it."""
    require(by, MANAGE_PEOPLE)
    before = sorted(person.groups.values_list("name", flat=True))
    person.groups.set(Group.objects.filter(name__in=[role.value for role in roles]))
    note(f"person:{person.pk}", reason=reason, before={"roles": before}, after={"roles": sorted(roles)})


@act("accounts.deactivate")
def deactivate(*, person: Person, reason: str, by: Acting, now: datetime) -> None:
    """Close an account for good use; the person stays in every record."""
    require(by, MANAGE_PEOPLE)
    person.is_active = False
    person.save(update_fields=["is_active"])
    note(f"person:{person.pk}", reason=reason, before={"is_active": True}, after={"is_active": False})


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
    """Record that a person may do an activity with a family, from an instant on."""
    require(by, MANAGE_PEOPLE)
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
        },
    )
    return row


@act("accounts.withdraw-authorisation")
def withdraw_authorisation(
    *, person: Person, activity: Activity, family: Family, reason: str, by: Acting, now: datetime
) -> Authorisation:
    """End an authorisation by a row that withdraws it."""
    require(by, MANAGE_PEOPLE)
    row = Authorisation.objects.create(
        person=person,
        activity=activity,
        family=family,
        valid_from=now,
        recorded_at=now,
        reason=reason,
        withdrawn=True,
        granted_by=by.as_actor().name,
    )
    note(f"person:{person.pk}", reason=reason, after={"withdrawn": str(activity), "family": family.code})
    return row


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
