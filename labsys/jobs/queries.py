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


def undecided() -> QuerySet[Notice]:
    """Find the messages that a person must decide about: doubtful ones, and those the mail server refused."""
    return Notice.objects.filter(state__in=(Notice.State.DOUBTFUL, Notice.State.REFUSED))


def stuck(now: datetime) -> QuerySet[Notice]:
    """Find the messages that wait for another try after the mail server couldn't be reached or put them off."""
    return Notice.objects.filter(state=Notice.State.PLANNED, claimed_until__gt=now).exclude(last_error="")


def last_success(name: str) -> JobRun | None:
    """Find the newest run of a job that ended well."""
    return JobRun.objects.filter(name=name, outcome=JobRun.Outcome.DONE).first()
