"""Runs of jobs are on record, also those that fail or whose worker dies; the clock wakes what it should."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from labsys.celery import app
from labsys.jobs import notices
from labsys.jobs.models import JobRun, Notice
from labsys.jobs.notices import Draft
from labsys.jobs.runs import recorded
from labsys.jobs.tasks import send_notices
from labsys.tasks import SCHEDULE
from tests.labsys.jobs.conftest import Post

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)


def run(now: datetime, name: str = "sweep") -> JobRun:
    with recorded(name, clock=lambda: now) as row:
        row.done, row.detail = 3, "three"
    return row


def test_a_run_says_when_it_ended_and_what_it_did() -> None:
    run(NOW)
    row = JobRun.objects.get()
    assert (row.outcome, row.finished_at, row.done, row.detail) == ("done", NOW, 3, "three")


def test_a_run_that_fails_is_recorded_and_still_fails() -> None:
    with pytest.raises(ZeroDivisionError), recorded("sweep", clock=lambda: NOW):
        _ = 1 / 0
    row = JobRun.objects.get()
    assert (row.outcome, row.detail) == ("failed", "ZeroDivisionError: division by zero")


def test_a_run_whose_worker_died_is_called_failed_by_the_next() -> None:
    dead = JobRun.objects.create(name="sweep", started_at=NOW)
    run(NOW + timedelta(minutes=59))
    dead.refresh_from_db()
    assert dead.outcome == "running"  # it may still be at work
    run(NOW + timedelta(minutes=61))
    dead.refresh_from_db()
    assert dead.outcome == "failed"


def test_good_runs_are_forgotten_after_a_week_failed_ones_are_not() -> None:
    run(NOW)
    JobRun.objects.create(name="sweep", started_at=NOW, outcome="failed")
    other = run(NOW, "other")
    run(NOW + timedelta(days=8))
    kept = set(JobRun.objects.values_list("name", "outcome", "started_at"))
    assert kept == {
        ("sweep", "failed", NOW),
        ("sweep", "done", NOW + timedelta(days=8)),
        ("other", "done", other.started_at),
    }


def test_the_clock_wakes_the_sender_each_minute(post: Post, draft: Callable[..., Draft]) -> None:
    entry = SCHEDULE["send-notices"]
    assert (entry["task"], entry["schedule"]) == (send_notices.name, 60.0)
    notices.plan([draft()], NOW)
    app.tasks[entry["task"]]()
    assert Notice.objects.get().state == "sent"
    assert JobRun.objects.get().done == 1
