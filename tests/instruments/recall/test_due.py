"""Due dates through the acts: month ends clamped, intervals shortened and lengthened, the one extension."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from instruments.inventory.models import Gauge
from instruments.recall import operations as recall
from instruments.recall import queries
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from tests.instruments.recall.conftest import NOW, MakeGauge, calibrate

# Calendar months clamped to the month's end: computed for the reference (due-1), compared with the rows printed there.
DUE_1 = json.loads((Path(__file__).parents[2] / "golden/published/due-1.json").read_text(encoding="utf-8"))


def at_noon(day: date) -> datetime:
    return datetime.combine(day, time(12), tzinfo=UTC)


@pytest.mark.parametrize("row", DUE_1["expected"])
def test_a_calibration_is_due_after_whole_months_clamped_to_the_months_end(
    make_gauge: MakeGauge, people: dict[str, Person], row: dict[str, Any]
) -> None:
    gauge = make_gauge(calibrated_on=None, months=row["months"])
    event = calibrate(gauge, at_noon(date.fromisoformat(row["cal"])), by=people["manager"])
    assert event.due_on == date.fromisoformat(row["due"])
    assert queries.due_on(gauge, NOW) == event.due_on
    assert gauge.standing.valid_until == event.due_on


def test_a_calibration_of_tomorrow_is_refused(gauge: Gauge, people: dict[str, Person]) -> None:
    with pytest.raises(recall.CalibratedInTheFuture):
        calibrate(gauge, NOW, by=people["manager"], calibrated_on=NOW.date() + timedelta(days=1))


def test_a_late_found_older_calibration_does_not_move_the_due_date(
    gauge: Gauge, people: dict[str, Person]
) -> None:
    calibrate(gauge, NOW, by=people["manager"], calibrated_on=date(2025, 1, 1), source="outside:9")
    assert queries.due_on(gauge, NOW) == date(2027, 3, 10)


def test_a_shorter_interval_holds_at_once_a_longer_one_from_the_next_calibration(
    gauge: Gauge, people: dict[str, Person]
) -> None:
    def assign(months: int, now: datetime) -> None:
        recall.assign_interval(gauge=gauge, months=months, reason="Evidence.", by=people["manager"], now=now)

    assign(9, NOW)
    assert queries.due_on(gauge, NOW) == date(2026, 12, 10)
    gauge.standing.refresh_from_db()
    assert gauge.standing.valid_until == date(2026, 12, 10)
    assign(18, NOW + timedelta(hours=1))
    assert queries.due_on(gauge, NOW + timedelta(hours=1)) == date(2026, 12, 10)
    event = calibrate(gauge, NOW + timedelta(days=1), by=people["manager"])
    assert event.due_on == date(2028, 5, 24)
    # What was known before the first change is still what it was.
    assert queries.due_on(gauge, NOW - timedelta(days=1)) == date(2027, 3, 10)


def test_an_interval_at_most_doubles_at_once(gauge: Gauge, people: dict[str, Person]) -> None:
    with pytest.raises(recall.IntervalStepTooLarge) as refused:
        recall.assign_interval(gauge=gauge, months=25, reason="Stable.", by=people["manager"], now=NOW)
    assert refused.value.data["most"] == 24
    recall.assign_interval(gauge=gauge, months=24, reason="Stable.", by=people["manager"], now=NOW)
    assert queries.interval_in_force(gauge, NOW) == 24


def test_an_interval_of_no_month_is_refused(gauge: Gauge, people: dict[str, Person]) -> None:
    with pytest.raises(ValidationError):
        recall.assign_interval(gauge=gauge, months=0, reason="Never.", by=people["manager"], now=NOW)


# Refusal 11: extension of the due date twice or beyond the cap. The days are EXT-1 of the requirements: due
# 2026-03-15, at most 2026-04-14, the request for 2026-04-20 is refused.
EXT_DUE, EXT_MOST, EXT_ASKED = date(2026, 3, 15), date(2026, 4, 14), date(2026, 4, 20)


def extend(gauge: Gauge, to_on: date, by: Person, on: date) -> None:
    recall.extend(gauge=gauge, to_on=to_on, reason="A test is running.", by=by, now=at_noon(on))


@pytest.fixture
def due_in_march(make_gauge: MakeGauge) -> Gauge:
    return make_gauge(calibrated_on=date(2025, 3, 15))


def test_an_extension_goes_to_the_cap_and_no_further(due_in_march: Gauge, people: dict[str, Person]) -> None:
    with pytest.raises(recall.ExtensionBeyondCap) as refused:
        extend(due_in_march, EXT_ASKED, people["manager"], date(2026, 3, 1))
    assert refused.value.data["latest"] == f"{EXT_MOST}"
    with pytest.raises(recall.ExtensionBeyondCap):
        extend(due_in_march, EXT_MOST + timedelta(days=1), people["manager"], date(2026, 3, 1))
    with pytest.raises(recall.ExtensionBeyondCap):
        extend(due_in_march, EXT_DUE, people["manager"], date(2026, 3, 1))
    extend(due_in_march, EXT_MOST, people["manager"], date(2026, 3, 1))
    assert queries.due_on(due_in_march, at_noon(date(2026, 3, 2))) == EXT_MOST
    # The original day stays on record.
    assert due_in_march.calibration_events.get().due_on == EXT_DUE
    assert JournalEntry.objects.filter(outcome="refused", act="recall.extend").count() == 3


def test_a_due_date_is_extended_once(due_in_march: Gauge, people: dict[str, Person]) -> None:
    extend(due_in_march, date(2026, 3, 20), people["manager"], date(2026, 3, 1))
    with pytest.raises(recall.AlreadyExtended):
        extend(due_in_march, date(2026, 3, 25), people["manager"], date(2026, 3, 2))


@pytest.mark.parametrize("on", [EXT_DUE, EXT_DUE + timedelta(days=1)])
def test_an_extension_comes_before_the_due_day(
    due_in_march: Gauge, people: dict[str, Person], on: date
) -> None:
    with pytest.raises(recall.ExtensionTooLate):
        extend(due_in_march, date(2026, 3, 25), people["manager"], on)


@pytest.mark.parametrize(
    "found", [{"as_found": "out_of_tolerance", "as_found_within_limits": False}, {"as_left": "not_accepted"}]
)
def test_nothing_is_extended_after_a_bad_calibration(
    make_gauge: MakeGauge, people: dict[str, Person], found: dict[str, Any]
) -> None:
    gauge = make_gauge()
    calibrate(gauge, NOW - timedelta(days=10), by=people["manager"], **found)
    with pytest.raises(recall.ExtensionAfterOutOfTolerance):
        recall.extend(gauge=gauge, to_on=date(2027, 11, 20), reason="Busy.", by=people["manager"], now=NOW)


def test_nothing_is_extended_while_a_hold_stands(due_in_march: Gauge, people: dict[str, Person]) -> None:
    recall.report_damage(
        gauge=due_in_march, what="Dropped.", by=people["floor"], now=at_noon(date(2026, 3, 1))
    )
    with pytest.raises(recall.ExtensionAfterOutOfTolerance):
        extend(due_in_march, date(2026, 3, 20), people["manager"], date(2026, 3, 2))


def test_without_a_calibration_there_is_nothing_to_extend(
    make_gauge: MakeGauge, people: dict[str, Person]
) -> None:
    with pytest.raises(recall.NothingToExtend):
        extend(make_gauge(calibrated_on=None), EXT_MOST, people["manager"], date(2026, 3, 1))


def test_a_shorter_interval_takes_an_extension_away(due_in_march: Gauge, people: dict[str, Person]) -> None:
    extend(due_in_march, EXT_MOST, people["manager"], date(2026, 3, 1))
    later = at_noon(date(2026, 3, 2))
    recall.assign_interval(gauge=due_in_march, months=11, reason="Drifts.", by=people["manager"], now=later)
    assert queries.due_on(due_in_march, later) == date(2026, 2, 15)


@pytest.mark.parametrize("role", ["technician", "reviewer", "floor", "auditor"])
def test_only_the_manager_plans(gauge: Gauge, people: dict[str, Person], role: str) -> None:
    asks: list[Any] = [
        lambda by: recall.extend(gauge=gauge, to_on=date(2027, 3, 20), reason="x", by=by, now=NOW),
        lambda by: recall.assign_interval(gauge=gauge, months=6, reason="x", by=by, now=NOW),
        lambda by: recall.call_in(gauges=[gauge], bring_by=NOW.date(), by=by, now=NOW),
    ]
    for ask in asks:
        with pytest.raises(NotAllowed):
            ask(people[role])
    assert issubclass(NotAllowed, LabError)
