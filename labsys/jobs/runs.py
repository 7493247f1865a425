"""One row per run of a job: when it began, what it did, how it ended. Old rows of runs that went well are removed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from labsys.jobs.models import JobRun

KEPT, DEAD_AFTER = timedelta(days=7), timedelta(hours=1)


@contextmanager
def recorded(name: str, *, clock: Callable[[], datetime]) -> Iterator[JobRun]:
    """Record the run of a job around the block; ``done`` and ``detail`` set inside are kept.

    An error is recorded and goes on its way. A run whose worker died is found by the next one and called failed.
    """
    begun = clock()
    running = JobRun.objects.filter(name=name, outcome=JobRun.Outcome.RUNNING)
    running.filter(started_at__lt=begun - DEAD_AFTER).update(
        outcome=JobRun.Outcome.FAILED, finished_at=begun, detail="Its worker stopped in the middle."
    )
    run = JobRun.objects.create(name=name, started_at=begun)
    try:
        yield run
    except Exception as problem:
        run.detail = f"{type(problem).__name__}: {problem}"
        _finish(run, JobRun.Outcome.FAILED, clock())
        raise
    _finish(run, JobRun.Outcome.DONE, clock())
    _forget(run)


def _finish(run: JobRun, outcome: JobRun.Outcome, now: datetime) -> None:
    run.outcome, run.finished_at = outcome, now
    run.save(update_fields=["outcome", "finished_at", "done", "total", "detail"])


def _forget(run: JobRun) -> None:
    """Remove good runs older than a week; the newest stays, whatever its age, as this one is newer."""
    old = JobRun.objects.filter(name=run.name, outcome=JobRun.Outcome.DONE, pk__lt=run.pk)
    old.filter(started_at__lt=run.started_at - KEPT).delete()
