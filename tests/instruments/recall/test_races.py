"""Two people at one gauge in the same moment: the kept row follows both, and what may happen once happens once."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier
from typing import Any

import pytest
from django.db import connection

from instruments.inventory.models import Gauge
from instruments.recall import operations as recall
from instruments.recall import queries
from instruments.recall.models import CallIn, Extension, GaugeStanding, Hold
from labsys.accounts.models import Person
from labsys.errors import LabError
from tests.instruments.recall.conftest import NOW, TODAY, MakeGauge

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.faults]
MANY = 8


def together(acts: list[Callable[[], Any]]) -> list[str]:
    """Do acts at the same moment, each on a connection of its own; gives "" or the code of the refusal for each."""
    gate = Barrier(len(acts))

    def one(act: Callable[[], Any]) -> str:
        try:
            gate.wait()
            act()
        except LabError as refusal:
            return refusal.code
        finally:
            connection.close()
        return ""

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(one, acts))


def test_the_row_follows_acts_that_overlap(gauge: Gauge, people: dict[str, Person]) -> None:
    """Of two acts each derives the standing; whichever writes last has seen what the other one wrote."""
    manager = people["manager"]
    for number in range(6):
        now = NOW + number * timedelta(hours=1)
        old = recall.set_hold(gauge=gauge, kind=Hold.Kind.OTHER, reason="First.", by=manager, now=now)
        data = recall.RestrictionData(text=f"Only so, {number}.")

        def lift(hold: Hold = old, at: Any = now) -> None:
            recall.lift_hold(hold=hold, reason="Answered.", by=manager, now=at)

        def restrict(said: Any = data, at: Any = now) -> None:
            recall.restrict(gauge=gauge, data=said, reason="Worn.", by=manager, now=at)

        assert together([lift, restrict]) == ["", ""]
        row, fresh = GaugeStanding.objects.get(pk=gauge.pk), queries.derive(gauge, now)
        assert {name: getattr(row, name) for name in vars(fresh)} == vars(fresh)


def test_a_gauge_is_called_in_once(gauge: Gauge, people: dict[str, Person]) -> None:
    def call() -> None:
        recall.call_in(gauges=[gauge], bring_by=TODAY, by=people["manager"], now=NOW)

    answers = together([call] * MANY)
    assert sorted(answers) == [""] + ["nothing-to-call-in"] * (MANY - 1)
    assert CallIn.objects.count() == 1


def test_a_due_date_is_put_off_once(make_gauge: MakeGauge, people: dict[str, Person]) -> None:
    gauge = make_gauge(calibrated_on=date(2025, 12, 10))

    def extend() -> None:
        recall.extend(
            gauge=gauge, to_on=date(2025 + 1, 12, 20), reason="Busy.", by=people["manager"], now=NOW
        )

    answers = together([extend] * MANY)
    assert sorted(answers) == [""] + ["already-extended"] * (MANY - 1)
    assert Extension.objects.count() == 1


def test_a_hold_is_lifted_once(gauge: Gauge, people: dict[str, Person]) -> None:
    hold = recall.set_hold(gauge=gauge, kind=Hold.Kind.OTHER, reason="Asked.", by=people["manager"], now=NOW)
    answers = together(
        [lambda: recall.lift_hold(hold=hold, reason="Answered.", by=people["manager"], now=NOW)] * MANY
    )
    assert sorted(answers) == [""] + ["hold-already-lifted"] * (MANY - 1)


def test_a_gauge_follows_its_master_whatever_happens_to_both_at_once(
    make_gauge: MakeGauge, people: dict[str, Person]
) -> None:
    """A pairing, a hold on the master and a sweep in the same moment: the gauge's row has seen all of it."""
    manager = people["manager"]
    for number in range(4):
        master, gauge = make_gauge(tag=f"R-{number}"), make_gauge()
        now = NOW + number * timedelta(hours=1)

        def bring_together(one: Gauge = gauge, other: Gauge = master, at: Any = now) -> None:
            recall.pair(gauge=one, master=other, by=manager, now=at)

        def hold(other: Gauge = master, at: Any = now) -> None:
            recall.set_hold(gauge=other, kind=Hold.Kind.OTHER, reason="Asked.", by=manager, now=at)

        def lengthen(one: Gauge = gauge, at: Any = now) -> None:
            recall.assign_interval(gauge=one, months=11, reason="Drifts.", by=manager, now=at)

        def sweep(at: Any = now) -> None:
            recall.refresh_all(at)

        assert together([bring_together, hold, lengthen, sweep]) == [""] * 4
        row, fresh = GaugeStanding.objects.get(pk=gauge.pk), queries.derive(gauge, now)
        assert fresh.reason == f"its setting master R-{number} may not be used: on hold"
        assert {name: getattr(row, name) for name in vars(fresh)} == vars(fresh)
