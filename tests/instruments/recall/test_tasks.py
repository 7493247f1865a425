"""Standings follow the journal within a minute, and a daily sweep mends what no act told of."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from instruments.inventory.models import Gauge
from instruments.inventory.operations import GaugeData, change_gauge
from instruments.recall import queries
from instruments.recall.models import GaugeStanding
from instruments.recall.tasks import follow, refresh
from labsys.accounts.models import Person
from labsys.jobs.models import JobRun
from tests.instruments.recall.conftest import NOW, TODAY, MakeGauge


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Stop the clock at the first entry; a test may put another time there."""
    times: list[object] = [NOW]
    monkeypatch.setattr("django.utils.timezone.now", lambda: times[0])
    return times


def data_of(gauge: Gauge) -> GaugeData:
    return GaugeData(
        tag=gauge.tag.text,
        model=gauge.model,
        serial=gauge.serial,
        department=gauge.department,
        place=gauge.place,
        custodian=gauge.custodian,
    )


def test_an_act_of_the_inventory_shows_after_the_next_minute(
    make_gauge: MakeGauge, people: dict[str, Person], clock: list[object]
) -> None:
    gauge, other = make_gauge(), make_gauge()
    follow()
    wanted = replace(data_of(gauge), check_before_use=True)
    change_gauge(gauge=gauge, data=wanted, reason="Used for final checks.", by=people["manager"], now=NOW)
    assert queries.standing(gauge, TODAY).word == "use"
    follow()
    assert queries.standing(gauge, TODAY).word == "stop"
    assert queries.standing(other, TODAY).word == "use"
    assert [run.done for run in JobRun.objects.order_by("pk")] == [0, 1]
    follow()
    assert JobRun.objects.latest("pk").done == 0


def test_the_first_run_derives_every_gauge(make_gauge: MakeGauge, clock: list[object]) -> None:
    make_gauge()
    GaugeStanding.objects.all().delete()
    follow()
    assert GaugeStanding.objects.get().word == "use"


def test_the_daily_sweep_mends_a_row_that_is_wrong(gauge: Gauge, clock: list[object]) -> None:
    GaugeStanding.objects.update(word="use", rank=16, valid_until=None)
    refresh()
    assert queries.standing(gauge, TODAY).valid_until is not None
    run = JobRun.objects.get()
    assert (run.total, run.done, run.detail) == (1, 1, "1 were not right")
    refresh()
    assert JobRun.objects.count() == 1
    clock[0] = NOW + timedelta(hours=23)
    refresh()
    assert JobRun.objects.count() == 2
