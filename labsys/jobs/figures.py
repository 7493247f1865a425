"""Reads for a monitor: how the ledgers stand, in numbers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count

from labsys.jobs.models import JobRun, Notice, OwedWork


@dataclass(frozen=True)
class Figures:
    """How much is owed, how many runs failed in the last day, how many notices stand in each state."""

    last_sweep_at: datetime | None
    owed: int
    failed_runs: int
    notices: dict[str, int]


def last_sweep_at() -> datetime | None:
    """Find when a job last ended well, whichever it was."""
    # By key, not by time: rows are written in that order, and the key is indexed however many runs there were.
    done = JobRun.objects.filter(outcome=JobRun.Outcome.DONE, finished_at__isnull=False).order_by("-pk")
    return done.values_list("finished_at", flat=True).first()


def figures(*, now: datetime) -> Figures:
    """Count what a monitor draws, at ``now``."""
    failed = JobRun.objects.filter(outcome=JobRun.Outcome.FAILED, started_at__gte=now - timedelta(days=1))
    counted = dict(Notice.objects.order_by().values_list("state").annotate(Count("pk")))
    return Figures(
        last_sweep_at=last_sweep_at(),
        owed=OwedWork.objects.filter(done_at=None).count(),
        failed_runs=failed.count(),
        notices={state: counted.get(state, 0) for state in Notice.State.values},
    )
