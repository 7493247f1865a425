"""What a monitor is told, in good times and bad."""

from __future__ import annotations

from datetime import timedelta
from unittest import mock

import pytest
from django.db.utils import OperationalError
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries, Settings

from labsys import health
from labsys.jobs.models import JobRun

pytestmark = pytest.mark.django_db


def sweep(*, minutes_ago: float, outcome: str = JobRun.Outcome.DONE) -> None:
    at = timezone.now() - timedelta(minutes=minutes_ago)
    JobRun.objects.create(name="sweep", started_at=at, finished_at=at, outcome=outcome)


def test_live_touches_no_database(client: Client, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    with django_assert_num_queries(0):
        assert client.get("/health/live").content == b"live\n"


def test_ready_with_every_migration_applied(client: Client) -> None:
    answer = client.get("/health/ready")
    assert answer.status_code == 200
    assert answer.json() == {"database": "answers", "migrations": "complete"}


def test_not_ready_before_a_migration(client: Client) -> None:
    with mock.patch.object(health, "_unapplied", return_value=2):
        answer = client.get("/health/ready")
    assert answer.status_code == 503
    assert answer.json()["migrations"] == "2 not applied: run manage.py migrate"


def test_not_ready_without_a_database(client: Client) -> None:
    with mock.patch.object(health, "_unapplied", side_effect=OperationalError("gone")):
        answer = client.get("/health/ready")
    assert answer.status_code == 503
    assert answer.json()["database"] == "does not answer: OperationalError"


@pytest.mark.parametrize(("minutes_ago", "status"), [(4.9, 200), (5.1, 503)])
def test_the_clock_is_late_after_five_minutes(client: Client, minutes_ago: float, status: int) -> None:
    sweep(minutes_ago=minutes_ago)
    assert client.get("/health/clock").status_code == status


def test_a_failed_sweep_is_no_tick(client: Client) -> None:
    assert client.get("/health/clock").status_code == 503
    sweep(minutes_ago=0, outcome=JobRun.Outcome.FAILED)
    assert client.get("/health/clock").status_code == 503


def test_metrics_count_what_stands_in_the_ledgers(client: Client) -> None:
    sweep(minutes_ago=1)
    sweep(minutes_ago=2, outcome=JobRun.Outcome.FAILED)
    lines = dict(line.rsplit(" ", 1) for line in client.get("/metrics").content.decode().splitlines())
    assert 60 <= float(lines["labsys_sweep_age_seconds"]) < 70
    assert lines["labsys_failed_runs_last_day"] == "1"
    assert lines['labsys_notices{state="doubtful"}'] == "0"


def test_metrics_are_for_this_machine_or_who_knows_the_key(client: Client, settings: Settings) -> None:
    assert client.get("/metrics").status_code == 200
    assert client.get("/metrics", REMOTE_ADDR="192.0.2.7").status_code == 403
    assert client.get("/metrics", headers={"X-Forwarded-For": "192.0.2.7"}).status_code == 403
    settings.METRICS_KEY = "a key"
    assert client.get("/metrics").status_code == 403
    assert client.get("/metrics", headers={"Authorization": "Bearer a key"}).status_code == 200
