"""Adding to a thermometer's log, and what it says of a span of time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from labsys.accounts.models import Person
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from standards.climate.models import LogReading, LogUpload
from standards.climate.operations import LogReadingsTooMany, NoThermometer, log_file, log_readings
from standards.climate.queries import Extreme, room_between, span_of
from standards.register.models import Standard
from tests.standards.climate.conftest import NOW
from tests.standards.conftest import at

D = Decimal
Add = Callable[..., LogUpload]
MORNING = at("2025-06-10", 7)


def lines(*rows: tuple[int, str, str]) -> str:
    """Write a file of readings so many minutes after seven."""
    head = "Time;Temperature;Humidity"
    return "\n".join(
        [head, *(f"{MORNING + timedelta(minutes=m):%Y-%m-%dT%H:%M}Z;{t};{h}" for m, t, h in rows)]
    )


def test_good_lines_are_taken_others_named_and_all_of_it_kept_and_journalled(
    add: Add, thermometer: Standard
) -> None:
    text = lines((0, "20.1", "45"), (5, "x", "45"), (10, "20.3", ""))
    made = add(text)
    assert (made.new_count, made.known_count, made.fault_count) == (2, 0, 1)
    assert made.faults == [[3, "Expected a temperature between −20 and 60, found “x”."]]
    assert made.content == text
    entry = JournalEntry.objects.filter(act="climate.log-file").get()
    assert entry.subject == f"standard:{thermometer.pk}"
    assert f'"sha256":"{made.sha256}"' in entry.canonical.replace(" ", "")


def test_the_same_file_again_and_an_overlapping_one_add_nothing_twice(add: Add) -> None:
    first = add(lines((0, "20.1", ""), (5, "20.2", "")))
    assert add(lines((0, "20.1", ""), (5, "20.2", ""))) == first
    second = add(lines((5, "20.2", ""), (10, "20.3", ""), (10, "20.3", "")))
    assert (second.new_count, second.known_count, second.fault_count) == (1, 2, 0)
    assert LogReading.objects.count() == 3


def test_what_says_other_than_the_log_is_named_and_the_log_stays(add: Add) -> None:
    add(lines((0, "20.1", "")))
    made = add(lines((0, "21.7", ""), (5, "20.2", ""), (5, "20.4", "")))
    assert (made.new_count, made.fault_count) == (1, 2)
    assert "the log has 20.100 °C already, here 21.700 °C. The first stays." in made.faults[0][1]
    assert [row.temperature_c for row in LogReading.objects.order_by("at")] == [D("20.1"), D("20.2")]


def test_a_reading_to_come_is_not_taken(add: Add) -> None:
    made = add(lines((0, "20.1", ""), (301, "20.1", ""), (306, "20.1", "")))
    assert (made.new_count, made.fault_count) == (2, 1)
    assert "Check the logger's clock" in made.faults[0][1]


def test_a_program_may_send_again_whatever_it_isnt_sure_of(thermometer: Standard, technician: Person) -> None:
    sent: list[dict[str, Any]] = [
        {"at": "2025-06-10T07:00:00Z", "temperature_c": 20.1, "humidity_percent": None},
        {"at": "2025-06-10T07:05:00+00:00", "temperature_c": "0", "humidity_percent": 0},
        {"at": "soon", "temperature_c": "20.1"},
    ]
    made = [log_readings(sensor=thermometer, readings=sent, by=technician, now=NOW) for _ in range(2)]
    assert made[0] == made[1]
    assert (made[0].new_count, made[0].fault_count) == (2, 1)
    assert made[0].faults[0][0] == 3
    later = log_readings(sensor=thermometer, readings=sent[:1], by=technician, now=NOW)
    assert (later.new_count, later.known_count) == (0, 1)
    assert [row.humidity_percent for row in LogReading.objects.order_by("at")] == [None, D(0)]


def test_refusals(
    add: Add, thermometer: Standard, make_standard: Any, auditor: Person, technician: Person
) -> None:
    with pytest.raises(NotAllowed):
        log_file(sensor=thermometer, name="x", content=b"", by=auditor, now=NOW)
    with pytest.raises(NoThermometer, match="GB-01 is a gauge block set"):
        log_readings(sensor=make_standard(), readings=[], by=technician, now=NOW)
    with pytest.raises(LogReadingsTooMany, match="at most 10000"):
        log_readings(sensor=thermometer, readings=[{}] * 10_001, by=technician, now=NOW)


def minutes(count: float) -> datetime:
    return MORNING + timedelta(minutes=count)


def test_a_span_has_its_mean_its_ends_and_its_gaps(add: Add, thermometer: Standard) -> None:
    add(lines((0, "20.0", "40"), (30, "20.4", "44"), (60, "19.7", ""), (91, "20.3", "45")))
    found = span_of(thermometer, minutes(0), minutes(121))
    assert found is not None
    assert found.count == 4
    assert found.temperature.mean == D("20.1")
    assert found.temperature.low == Extreme(D("19.7"), minutes(60))
    assert found.temperature.high == Extreme(D("20.4"), minutes(30))
    assert found.humidity is not None
    assert found.humidity.mean == D(43)
    # Half an hour is none yet, a minute more is; the end counts like a reading.
    assert found.gaps == ((minutes(60), minutes(91)),)
    assert span_of(thermometer, minutes(0), minutes(122)).gaps[-1] == (minutes(91), minutes(122))  # type: ignore[union-attr]


def test_a_span_without_readings_is_none(add: Add, thermometer: Standard) -> None:
    add(lines((0, "20.0", "")))
    assert span_of(thermometer, minutes(1), minutes(9)) is None


def test_a_place_is_spoken_for_by_the_thermometer_that_logged_most_there(
    add: Add, thermometer: Standard, make_standard: Any, technician: Person
) -> None:
    add(lines((0, "20.0", ""), (5, "20.0", "")))
    other = make_standard("T-02", kind="thermometer", elements=())
    sent = [{"at": f"2025-06-10T07:0{n}Z", "temperature_c": "21"} for n in range(3)]
    log_readings(sensor=other, readings=sent, by=technician, now=NOW)
    found = room_between(thermometer.place, minutes(0), minutes(10))
    assert found is not None
    assert found.sensor == other
    assert room_between(thermometer.place, minutes(20), minutes(30)) is None
