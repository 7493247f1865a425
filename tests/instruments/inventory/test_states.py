"""Service states: rows from an instant on, and where each may lead."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from instruments.inventory.models import Gauge, GaugeModel, GaugeState
from instruments.inventory.operations import change_state
from instruments.inventory.operations.reasons import ReasonMissing
from instruments.inventory.operations.states import StateDoesNotFollow, UnknownState
from instruments.inventory.queries import gauges, in_state, state_of, with_state
from labsys.accounts.models import Person
from labsys.journal.roles import NotAllowed
from labsys.laboratory.models import Department, Family, Place, Tag
from tests.instruments.inventory.conftest import NOW

DAY = timedelta(days=1)


def test_a_state_holds_from_its_instant_on(gauge: Gauge, manager: Person, now: datetime) -> None:
    later = now + 3 * DAY
    change_state(gauge=gauge, state="in-service", reason="accepted", by=manager, now=later)
    assert state_of(gauge, later - timedelta(microseconds=1)) == "new"
    assert state_of(gauge, later) == "in-service"


@pytest.mark.parametrize(
    ("path", "refused"),
    [
        (["in-service"], "new"),
        (["lost"], "in-service"),
        (["lost"], "lost"),
        (["scrapped"], "in-service"),
        (["scrapped"], "stored"),
    ],
)
def test_some_states_do_not_follow(
    path: list[str], refused: str, gauge: Gauge, manager: Person, now: datetime
) -> None:
    for number, state in enumerate(path):
        change_state(gauge=gauge, state=state, reason="as found", by=manager, now=now + number * DAY)
    with pytest.raises(StateDoesNotFollow) as refusal:
        change_state(gauge=gauge, state=refused, reason="wish", by=manager, now=now + 9 * DAY)
    assert "can become" in str(refusal.value)
    assert state_of(gauge, now + 9 * DAY) == path[-1]


def test_what_was_lost_comes_back_out_of_service(gauge: Gauge, manager: Person, now: datetime) -> None:
    change_state(gauge=gauge, state="lost", reason="not at its place", by=manager, now=now + DAY)
    change_state(
        gauge=gauge, state="out-of-service", reason="found in a drawer", by=manager, now=now + 2 * DAY
    )
    change_state(gauge=gauge, state="in-service", reason="calibrated", by=manager, now=now + 3 * DAY)
    assert state_of(gauge, now + 3 * DAY) == "in-service"


def test_a_change_of_state_wants_a_reason_and_a_known_word(
    gauge: Gauge, manager: Person, now: datetime
) -> None:
    with pytest.raises(ReasonMissing):
        change_state(gauge=gauge, state="stored", reason="", by=manager, now=now + DAY)
    with pytest.raises(UnknownState, match="broken"):
        change_state(gauge=gauge, state="broken", reason="fell", by=manager, now=now + DAY)


@pytest.mark.parametrize("role", ["reviewer", "floor", "auditor"])
def test_the_state_is_not_everybodys(
    role: str, gauge: Gauge, person: Callable[[str], Person], now: datetime
) -> None:
    with pytest.raises(NotAllowed):
        change_state(gauge=gauge, state="stored", reason="wish", by=person(role), now=now + DAY)


def test_the_database_keeps_states_as_they_were(gauge: Gauge) -> None:
    from django.db import DatabaseError, transaction

    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        GaugeState.objects.filter(gauge=gauge).update(state="in-service")


class StatesInSql(TestCase):
    """The state in SQL is the state in Python, whatever rows there are and in whatever order they came."""

    def setUp(self) -> None:
        family = Family.objects.create(code="caliper", name="Caliper", bench_hours=1)
        model = GaugeModel.objects.create(
            family=family, maker="Plant", designation="D", indication="digital", unit="mm",
            resolution="0.01", range_high_mm=150, functions=["outside"],
        )  # fmt: skip
        department = Department.objects.create(code="T", name="Turning")
        place = Place.objects.create(name="Lathe")
        self.gauges = [
            Gauge.objects.create(
                tag=Tag.objects.create(text=f"G-{number}", created_at=NOW), model=model, serial="1",
                department=department, place=place, registered_at=NOW,
            )
            for number in range(3)
        ]  # fmt: skip

    rows = st.lists(
        st.tuples(
            st.integers(0, 2),
            st.sampled_from(GaugeState.State.values),
            st.integers(-3, 3),
            st.integers(-3, 3),
        ),
        max_size=8,
    )

    @settings(max_examples=40, deadline=None)
    @given(rows=rows)
    def test_sql_equals_python(self, rows: list[tuple[int, str, int, int]]) -> None:
        for which, state, valid, recorded in rows:
            GaugeState.objects.create(
                gauge=self.gauges[which],
                state=state,
                valid_from=NOW + valid * DAY,
                recorded_at=NOW + recorded * DAY,
            )
        python = {gauge.pk: state_of(gauge, NOW) for gauge in self.gauges}
        sql = {gauge.pk: gauge.state_now or "" for gauge in with_state(gauges(), NOW)}  # type: ignore[attr-defined]
        assert sql == python
        for state in GaugeState.State.values:
            found = {gauge.pk for gauge in in_state(gauges(), state, NOW)}
            assert found == {pk for pk, word in python.items() if word == state}
