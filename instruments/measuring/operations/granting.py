"""The act that gives a tablet its bench grant, and finding the person behind one."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from typing import ClassVar

from instruments.measuring.access import MEASURE
from instruments.measuring.models import BenchGrant
from labsys.accounts.models import Person
from labsys.accounts.operations import hash_of_token
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require

GOOD_FOR = timedelta(days=14)
"""Longer than any network is away; short enough that a lost tablet stops depositing by itself."""


class GrantUnknown(LabError, PermissionError):
    """A deposit with a key that was never given, or is over."""

    code: ClassVar[str] = "grant-unknown"
    sentence: ClassVar[str] = (
        "This tablet's key for depositing isn't known, or is over. Nothing is lost: sign in on this tablet again, and "
        "what waits goes out."
    )


@act("measuring.grant-bench")
def grant_bench(*, device: str, by: Person, now: datetime) -> tuple[BenchGrant, str]:
    """Give a device a key with which it deposits for ``by``; an older key of both ends. Gives the row and the key."""
    require(by, MEASURE)
    BenchGrant.objects.filter(person=by, device=device, ended_at=None).update(ended_at=now)
    key = f"bench_{secrets.token_urlsafe(32)}"
    row = BenchGrant.objects.create(
        person=by, device=device, key_sha256=hash_of_token(key), granted_at=now, until=now + GOOD_FOR
    )
    note(f"person:{by.pk}", after={"bench_grant": row.pk, "device": device, "until": row.until})
    return row, key


def grant_behind(key: str, now: datetime) -> BenchGrant:
    """Find the grant that a key belongs to; raises GrantUnknown."""
    found = BenchGrant.objects.select_related("person").filter(key_sha256=hash_of_token(key)).first()
    if found is None or found.ended_at is not None or found.until < now:
        raise GrantUnknown()
    return found
