"""Custody: one step after another, none before the last and none to come."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest

from instruments.inventory.models import CustodyEvent, Gauge
from instruments.inventory.operations import Condition, record_custody
from instruments.inventory.operations.custody import (
    AlreadyReceived,
    BeforeTheLastEvent,
    ConditionMissing,
    InTheFuture,
    NotInTheLaboratory,
    NotYourGauge,
    WaitsForWhat,
)
from instruments.inventory.queries import received_at, whereabouts
from labsys.accounts.models import Person
from labsys.journal.queries import about
from labsys.journal.roles import NotAllowed
from labsys.laboratory.models import Place

HOUR = timedelta(hours=1)


@pytest.fixture
def step(gauge: Gauge, technician: Person, now: datetime) -> Callable[..., CustodyEvent]:
    def record(kind: str, hours: int = 0, **more: Any) -> CustodyEvent:
        at = now + hours * HOUR
        given = {"at": at, "by": technician, "now": at, **more}
        if kind == "received":
            given.setdefault("condition", "clean, complete")
        return record_custody(gauge=gauge, kind=kind, **given)

    return record


def test_the_last_step_says_where_it_is(
    step: Callable[..., CustodyEvent], gauge: Gauge, bench: Place
) -> None:
    assert whereabouts(gauge) is None
    step("received", 1, place=bench)
    soaking = step("soaking", 2, place=bench)
    assert whereabouts(gauge) == soaking
    assert whereabouts(gauge, soaking.at - HOUR / 2) != soaking


def test_received_until_returned(step: Callable[..., CustodyEvent], gauge: Gauge, now: datetime) -> None:
    assert received_at(gauge) is None
    step("received", 1)
    step("on-bench", 2)
    assert received_at(gauge) == now + HOUR
    step("returned", 3)
    assert received_at(gauge) is None
    assert received_at(gauge, now + 2 * HOUR) == now + HOUR
    step("received", 4)
    assert received_at(gauge) == now + 4 * HOUR
    step("handed-over", 5)
    assert received_at(gauge) is None


def test_called_in_or_handed_over_needs_no_laboratory(
    step: Callable[..., CustodyEvent], gauge: Gauge
) -> None:
    step("called-in", 1)
    step("handed-over", 2)
    assert received_at(gauge) is None


@pytest.mark.parametrize("kind", ["cleaned", "soaking", "on-bench", "waiting", "released", "returned"])
def test_nothing_happens_inside_before_it_was_received(kind: str, step: Callable[..., CustodyEvent]) -> None:
    with pytest.raises(NotInTheLaboratory):
        step(kind, 1, waits_for="part" if kind == "waiting" else "")
    assert not CustodyEvent.objects.exists()


def test_it_is_received_once(step: Callable[..., CustodyEvent]) -> None:
    step("received", 1)
    with pytest.raises(AlreadyReceived, match="hasn't left since"):
        step("received", 2)


def test_a_step_is_never_put_before_one_that_stands(step: Callable[..., CustodyEvent], now: datetime) -> None:
    step("received", 2)
    step("cleaned", 2)
    with pytest.raises(BeforeTheLastEvent):
        step("soaking", 3, at=now + 2 * HOUR - timedelta(seconds=1))
    step("soaking", 3, at=now + 2 * HOUR)


def test_a_step_to_come_is_refused(step: Callable[..., CustodyEvent], now: datetime) -> None:
    with pytest.raises(InTheFuture):
        step("received", 1, at=now + HOUR + timedelta(seconds=1))


def test_it_arrives_in_a_condition(step: Callable[..., CustodyEvent]) -> None:
    with pytest.raises(ConditionMissing):
        step("received", 1, condition="  ")


@pytest.mark.parametrize(("kind", "waits_for"), [("waiting", ""), ("cleaned", "part")])
def test_waiting_names_what_for(kind: str, waits_for: str, step: Callable[..., CustodyEvent]) -> None:
    step("received", 1)
    with pytest.raises(WaitsForWhat):
        step(kind, 2, waits_for=waits_for)
    assert step("waiting", 3, waits_for="reviewer").get_waits_for_display() == "the reviewer"


def test_a_step_leaves_its_entry(step: Callable[..., CustodyEvent], gauge: Gauge) -> None:
    step("received", 1, condition=Condition("jaw nicked", damaged=True))
    entry = about(f"gauge:{gauge.pk}").first()
    assert entry is not None and entry.after is not None
    assert (entry.act, entry.after["condition"], entry.after["damaged"]) == (
        "inventory.record-custody",
        "jaw nicked",
        True,
    )


def test_the_floor_hands_over_what_is_in_its_care(
    step: Callable[..., CustodyEvent], gauge: Gauge, person: Callable[[str], Person]
) -> None:
    floor = person("floor")
    with pytest.raises(NotYourGauge):
        step("handed-over", 1, by=floor)
    gauge.custodian = floor
    gauge.save()
    assert step("handed-over", 1, by=floor).by == floor
    with pytest.raises(NotYourGauge):
        step("received", 2, by=floor)


def test_the_auditor_only_looks(step: Callable[..., CustodyEvent], person: Callable[[str], Person]) -> None:
    with pytest.raises(NotAllowed):
        step("called-in", 1, by=person("auditor"))
