"""Owed work: a row says what must be done, a conditional update says who does it now.

Ledger, claim, do, record. A worker that dies holds its claim until the lease ends; then another takes the row again,
so whatever is done for it must be safe to do twice.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from django.db import transaction

from labsys.errors import LabError
from labsys.jobs.models import OwedWork
from labsys.jobs.queries import owed

LEASE = timedelta(minutes=5)


def owe(kind: str, subject: str, now: datetime) -> OwedWork:
    """Record that something is owed, inside the act that makes it so; owing the same twice is one row."""
    row, _created = OwedWork.objects.get_or_create(kind=kind, subject=subject, defaults={"owed_at": now})
    return row


def work_off(
    kind: str, do: Callable[[str, datetime], None], *, now: datetime, most: int = 50
) -> tuple[int, int]:
    """Do what is owed of a kind, one row at a time; gives how many were done and how many failed.

    ``do(subject, now)`` must be safe to repeat. What fails stays owed, with the error beside it.
    """
    done = failed = 0
    for row in owed(kind, now)[:most]:
        if not _claim(row, now):
            continue
        try:
            do(row.subject, now)
        except (LabError, OSError, RuntimeError, ValueError) as problem:
            _failed(row, problem)
            failed += 1
        else:
            OwedWork.objects.filter(pk=row.pk).update(done_at=now, claimed_until=None, last_error="")
            done += 1
    return done, failed


def _claim(row: OwedWork, now: datetime) -> bool:
    with transaction.atomic():
        free = owed(row.kind, now).filter(pk=row.pk)
        return free.update(claimed_until=now + LEASE, attempts=row.attempts + 1) == 1


def _failed(row: OwedWork, problem: Exception) -> None:
    OwedWork.objects.filter(pk=row.pk).update(last_error=f"{type(problem).__name__}: {problem}")
