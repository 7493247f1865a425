"""Reads of the ledgers: what is owed, what is doubtful, when a job last ended well."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Max, Min, Q, QuerySet

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


def runs() -> QuerySet[JobRun]:
    """Find all runs of jobs that are kept, newest first."""
    return JobRun.objects.order_by("-pk")


@dataclass(frozen=True)
class JobSummary:
    """How one job goes: its newest run, the newest that ended well, how many failed in the last day."""

    name: str
    last: JobRun
    last_done: JobRun | None
    failed_today: int

    @property
    def is_failing(self) -> bool:
        """Say whether the newest run failed."""
        return self.last.outcome == JobRun.Outcome.FAILED


def summary(now: datetime) -> list[JobSummary]:
    """Say of each job how it goes, in two questions however many runs are kept."""
    done = Q(outcome=JobRun.Outcome.DONE)
    failed = Q(outcome=JobRun.Outcome.FAILED, started_at__gte=now - timedelta(days=1))
    counted = (
        JobRun.objects.order_by("name")
        .values("name")
        .annotate(last=Max("pk"), last_done=Max("pk", filter=done), failed=Count("pk", filter=failed))
    )
    rows = list(counted)
    found = JobRun.objects.in_bulk({row[key] for row in rows for key in ("last", "last_done") if row[key]})
    return [
        JobSummary(row["name"], found[row["last"]], found.get(row["last_done"]), row["failed"])
        for row in rows
    ]


@dataclass(frozen=True)
class Owing:
    """How much of one kind is owed, since when, and how much of it failed at least once."""

    kind: str
    count: int
    oldest_at: datetime
    failing: int


def owed_by_kind() -> list[Owing]:
    """Count what is owed and not done, by kind."""
    open_rows = OwedWork.objects.filter(done_at=None).order_by("kind").values("kind")
    counted = open_rows.annotate(
        count=Count("pk"), oldest=Min("owed_at"), failing=Count("pk", filter=~Q(last_error=""))
    )
    return [Owing(row["kind"], row["count"], row["oldest"], row["failing"]) for row in counted]


def failing() -> QuerySet[OwedWork]:
    """Find what is owed and failed at least once, oldest first."""
    return OwedWork.objects.filter(done_at=None).exclude(last_error="").order_by("owed_at", "pk")


def titles_of(ids: Collection[int]) -> Mapping[int, str]:
    """Give the titles of messages by their ids."""
    return dict(Notice.objects.filter(pk__in=ids).values_list("pk", "title"))
