"""The page of jobs: how each goes, what is owed and failing, in as many questions however much ran."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from labsys.jobs.models import JobRun, OwedWork
from labsys.jobs.owed import owe, work_off
from labsys.jobs.queries import owed_by_kind, summary

pytestmark = pytest.mark.django_db

Outcome = JobRun.Outcome


def ran(name: str, outcome: str, *, hours_ago: float = 0.0, detail: str = "") -> JobRun:
    at = timezone.now() - timedelta(hours=hours_ago)
    finished = None if outcome == Outcome.RUNNING else at + timedelta(seconds=2)
    return JobRun.objects.create(
        name=name, outcome=outcome, started_at=at, finished_at=finished, detail=detail
    )


def broken(subject: str, now: object) -> None:
    raise RuntimeError("the printer is out of ink")


def test_each_job_is_summed_up() -> None:
    good = ran("sweep", Outcome.DONE, hours_ago=3)
    ran("sweep", Outcome.FAILED, hours_ago=30)
    last = ran("sweep", Outcome.FAILED, hours_ago=1)
    running = ran("walk", Outcome.RUNNING)
    found = {one.name: one for one in summary(timezone.now())}
    assert (found["sweep"].last, found["sweep"].last_done, found["sweep"].failed_today) == (last, good, 1)
    assert found["sweep"].is_failing
    assert (found["walk"].last, found["walk"].last_done, found["walk"].is_failing) == (running, None, False)


def test_what_is_owed_is_counted_until_it_is_done() -> None:
    now = timezone.now()
    for number in range(3):
        owe("render", f"certificate:{number}", now)
    OwedWork.objects.filter(subject="certificate:0").update(done_at=now)
    work_off("render", broken, now=now, most=1)
    found = owed_by_kind()
    assert [(one.kind, one.count, one.failing) for one in found] == [("render", 2, 1)]


def test_the_page_shows_failures_in_their_own_words(signed_in: Callable[[str], Client]) -> None:
    now = timezone.now()
    owe("render", "certificate:1", now)
    work_off("render", broken, now=now)
    ran("sweep", Outcome.FAILED, detail="OSError: the disk is full")
    text = signed_in("administrator").get(reverse("jobs")).content.decode()
    for said in ("RuntimeError: the printer is out of ink", "OSError: the disk is full", "failing"):
        assert said in text


def test_runs_are_narrowed_by_the_address(signed_in: Callable[[str], Client]) -> None:
    ran("sweep", Outcome.DONE)
    ran("sweep", Outcome.FAILED)
    ran("walk", Outcome.FAILED)
    client = signed_in("manager")
    rows = client.get(reverse("jobs") + "?name=sweep&outcome=failed").context["table"].rows
    assert [(row.cells["name"], "failed" in row.cells["outcome"]) for row in rows] == [("sweep", True)]


def test_before_the_first_run_the_page_says_what_to_do(signed_in: Callable[[str], Client]) -> None:
    assert "No job has run yet" in signed_in("manager").get(reverse("jobs")).content.decode()


def test_more_runs_ask_no_more_questions(signed_in: Callable[[str], Client]) -> None:
    client = signed_in("manager")

    def asked() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert client.get(reverse("jobs")).status_code == 200
        return len(counted)

    ran("sweep", Outcome.DONE)
    few = asked()
    for number in range(60):
        ran(f"sweep-{number % 7}", Outcome.DONE if number % 3 else Outcome.FAILED)
        owe("render", f"certificate:{number}", timezone.now())
    assert asked() == few <= 13
