"""Due dates by every convention, capped, and what speaks against an extension."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.dates import IntervalTooShort, due_on, latest_due_on
from labsys.metrology.intervals.due import (
    CountOutOfRange,
    DatesCrossed,
    DueDate,
    ExtensionAsked,
    at_month_end,
    by_event,
    by_uses,
    from_calibration,
    from_first_use,
    judge_extension,
    on_anniversary,
)
from tests.labsys.metrology.published import case

DAYS = st.dates(date(1950, 1, 1), date(2150, 12, 31))
MONTHS = st.integers(1, 60)


def worked(name: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in case("interval-cases")["cases"] if one["id"] == name)
    return found


@pytest.mark.parametrize("row", case("due-1")["expected"], ids=lambda row: row["cal"])
def test_the_worked_month_ends(row: dict[str, str]) -> None:
    calibrated_on, months = date.fromisoformat(row["cal"]), int(row["months"])
    assert from_calibration(calibrated_on, months).due_on.isoformat() == row["due"]
    assert at_month_end(calibrated_on, months).by_convention_on.isoformat() == row["due_end_of_month"]


@pytest.mark.parametrize("used_on", ["2023_02_01", "2023_05_01"])
def test_the_published_shelf_life_and_the_cap_that_goes_before_it(used_on: str) -> None:
    printed = worked("DUE-2")["expected"][f"first_use_{used_on}"]
    day = date.fromisoformat(used_on.replace("_", "-"))
    found = from_first_use(date(2022, 9, 1), 12, first_used_on=day, shelf_months=6)
    assert found.by_convention_on.isoformat() == printed
    # A year and 30 days after the calibration ended no due date may lie, whatever the shelf says.
    assert (found.due_on, found.is_capped) == (date(2023, 10, 1), True)


def test_an_item_still_on_the_shelf_is_due_with_the_shelf_months() -> None:
    found = from_first_use(date(2022, 9, 1), 12, first_used_on=None, shelf_months=1)
    assert found.by_convention_on == found.due_on == date(2023, 10, 1)


@given(DAYS, MONTHS)
def test_the_end_of_the_month_is_the_last_day_of_it_and_within_the_cap(day: date, months: int) -> None:
    found = at_month_end(day, months)
    assert (found.by_convention_on + timedelta(days=1)).day == 1
    assert 0 <= (found.by_convention_on - due_on(day, months)).days <= 30
    assert found.due_on <= latest_due_on(day, months)


@pytest.mark.parametrize(
    ("calibrated_on", "expected"),
    [
        (date(2026, 3, 15), date(2027, 3, 15)),  # on the day
        (date(2026, 2, 13), date(2027, 3, 15)),  # 30 days early, the most
        (date(2026, 2, 12), date(2027, 2, 12)),  # 31 days early
        (date(2026, 3, 16), date(2027, 3, 16)),  # late: no credit for the days over
    ],
)
def test_the_anniversary_is_kept_for_a_calibration_a_little_early(
    calibrated_on: date, expected: date
) -> None:
    assert on_anniversary(calibrated_on, 12, old_due_on=date(2026, 3, 15)).due_on == expected


@given(DAYS, MONTHS, st.integers(-400, 400))
def test_no_convention_passes_the_cap(day: date, months: int, shift: int) -> None:
    kept = on_anniversary(day, months, old_due_on=day + timedelta(days=shift))
    used = from_first_use(
        day, months, first_used_on=day + timedelta(days=abs(shift)), shelf_months=abs(shift) % 25
    )
    for found in (kept, used):
        assert found.due_on <= latest_due_on(day, months)
        assert found.is_capped == (found.by_convention_on > found.due_on)


def test_uses_or_time_whichever_is_first() -> None:
    day, today = date(2026, 1, 10), date(2026, 4, 1)
    assert by_uses(day, 12, uses=499, most_uses=500, today=today).due_on == date(2027, 1, 10)
    assert by_uses(day, 12, uses=500, most_uses=500, today=today).due_on == today
    assert by_uses(day, 1, uses=500, most_uses=500, today=today).due_on == date(2026, 2, 10)


def test_an_event_makes_due_at_once_and_never_later() -> None:
    assert by_event(date(2026, 1, 10), 12, happened_on=date(2026, 5, 2)).due_on == date(2026, 5, 2)
    assert by_event(date(2026, 1, 10), 12, happened_on=date(2027, 5, 2)).due_on == date(2027, 1, 10)


def test_dates_and_counts_that_cannot_be_are_refused() -> None:
    day, before = date(2026, 1, 10), date(2026, 1, 9)
    with pytest.raises(DatesCrossed, match="the first use on or after the calibration"):
        from_first_use(day, 12, first_used_on=before, shelf_months=0)
    with pytest.raises(DatesCrossed):
        by_event(day, 12, happened_on=before)
    with pytest.raises(DatesCrossed):
        by_uses(day, 12, uses=0, most_uses=1, today=before)
    with pytest.raises(CountOutOfRange):
        from_first_use(day, 12, first_used_on=None, shelf_months=-1)
    with pytest.raises(CountOutOfRange):
        by_uses(day, 12, uses=-1, most_uses=5, today=day)
    with pytest.raises(IntervalTooShort):
        from_calibration(day, 0)


# Extensions


DUE: DueDate = from_calibration(date(2025, 3, 15), 12)
FAIR = ExtensionAsked(until_on=date(2026, 4, 14), decided_on=date(2026, 3, 14))


def test_the_worked_extension_is_refused_and_its_latest_day_is_not() -> None:
    printed = worked("EXT-1")
    asked = replace(FAIR, until_on=date.fromisoformat(printed["inputs"]["requested"]))
    found = judge_extension(DUE, asked)
    assert DUE.due_on.isoformat() == printed["inputs"]["due"]
    assert found.latest_on.isoformat() == printed["expected"]["max_extended_due"]
    assert found.is_refused is printed["expected"]["refuse"]
    assert not judge_extension(DUE, FAIR).is_refused


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"until_on": date(2026, 4, 15)}, "beyond the latest possible day, 2026-04-14"),
        ({"until_on": date(2026, 3, 15)}, "not after the due date, 2026-03-15"),
        ({"decided_on": date(2026, 3, 15)}, "not decided before the due date"),
        ({"was_extended": True}, "extended once already in this cycle"),
        ({"is_reference_standard": True}, "a reference standard is never extended"),
        ({"was_out_of_tolerance": True}, "out of tolerance at the last calibration"),
        ({"is_check_failing": True}, "an intermediate check fails"),
    ],
)
def test_each_reason_alone_refuses(change: dict[str, Any], reason: str) -> None:
    assert judge_extension(DUE, replace(FAIR, **change)).reasons == (reason,)
