"""Signing in again and signing: a meaning put to the hash of a record, in a person's name."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import ClassVar

from django.core.cache import cache

from labsys.accounts.models import Person, Signature
from labsys.errors import LabError
from labsys.journal.door import act, note

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
