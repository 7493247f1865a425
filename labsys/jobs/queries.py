"""Reads of the ledgers: what is owed, what is doubtful, when a job last ended well."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q, QuerySet

from labsys.jobs.models import JobRun, Notice, OwedWork


def owed(kind: str, now: datetime) -> QuerySet[OwedWork]:
    """Find what is owed of a kind and in nobody's hands at ``now``, oldest first."""
    free = Q(claimed_until=None) | Q(claimed_until__lte=now)
    return OwedWork.objects.filter(free, kind=kind, done_at=None).order_by("owed_at", "pk")


def doubtful() -> QuerySet[Notice]:
    """Find the messages whose sender died while handing them over: perhaps sent, perhaps not."""
    return Notice.objects.filter(state=Notice.State.DOUBTFUL)


def last_success(name: str) -> JobRun | None:
    """Find the newest run of a job that ended well."""
    return JobRun.objects.filter(name=name, outcome=JobRun.Outcome.DONE).first()
