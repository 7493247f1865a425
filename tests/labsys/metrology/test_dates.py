"""Due dates: published month-end cases, the cap of an extension, the last instant of the due day."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.dates import (
    DateOutOfRange,
    InstantWithoutZone,
    IntervalTooShort,
    add_months,
    due_on,
    extension_cap_days,
    first_overdue_instant,
    is_valid_at,
    last_valid_instant,
    latest_due_on,
)
from tests.labsys.metrology.published import case

VIENNA = ZoneInfo("Europe/Vienna")
DAYS = st.dates(date(1900, 1, 1), date(2200, 12, 31))


@pytest.mark.parametrize("row", case("due-1")["expected"], ids=lambda row: row["cal"])
def test_month_ends_are_clamped(row: dict[str, str]) -> None:
    assert due_on(date.fromisoformat(row["cal"]), int(row["months"])) == date.fromisoformat(row["due"])


@given(DAYS, st.integers(-240, 240))
def test_months_agree_with_counting_them(start: date, months: int) -> None:
    found = add_months(start, months)
    assert (found.year * 12 + found.month) - (start.year * 12 + start.month) == months
    assert found.day == start.day or (found.day < start.day and (found + timedelta(days=1)).day == 1)


def test_an_interval_has_at_least_a_month() -> None:
    with pytest.raises(IntervalTooShort):
        due_on(date(2026, 1, 1), 0)


def test_the_calendar_ends() -> None:
    with pytest.raises(DateOutOfRange):
        due_on(date(9999, 6, 1), 12)
    with pytest.raises(DateOutOfRange):
        latest_due_on(date(9998, 12, 20), 12)
    with pytest.raises(DateOutOfRange):
        last_valid_instant(date.max, UTC)


def test_an_extension_is_a_tenth_at_most_thirty_days() -> None:
    # Common practice, no source. Due 2026-03-15 may move to 2026-04-14 at most.
    assert latest_due_on(date(2025, 3, 15), 12) == date(2026, 4, 14)
    assert extension_cap_days(date(2026, 1, 1), 6) == 18
    assert extension_cap_days(date(2026, 2, 1), 1) == 2


def test_valid_through_the_end_of_the_due_day_in_the_labs_zone() -> None:
    due = date(2026, 11, 25)
    assert last_valid_instant(due, VIENNA) == datetime(2026, 11, 25, 22, 59, 59, 999999, tzinfo=UTC)
    assert is_valid_at(datetime(2026, 11, 25, 23, 59, tzinfo=VIENNA), due, VIENNA)
    assert not is_valid_at(datetime(2026, 11, 26, 0, 0, tzinfo=VIENNA), due, VIENNA)


@pytest.mark.parametrize(
    ("zone", "due", "overdue_utc"),
    [
        # Summer time ends in the night after the due day.
        ("Europe/Vienna", date(2026, 10, 25), datetime(2026, 10, 25, 23, 0, tzinfo=UTC)),
        ("Europe/Vienna", date(2026, 10, 24), datetime(2026, 10, 24, 22, 0, tzinfo=UTC)),
        # Clocks jumped from 00:00 to 01:00: the midnight after the due day doesn't exist.
        ("America/Sao_Paulo", date(2018, 11, 3), datetime(2018, 11, 4, 3, 0, tzinfo=UTC)),
    ],
)
def test_nights_in_which_the_clocks_change(zone: str, due: date, overdue_utc: datetime) -> None:
    assert first_overdue_instant(due, ZoneInfo(zone)) == overdue_utc


@given(st.integers(-2880, 2880), DAYS)
def test_valid_means_that_the_labs_calendar_has_not_passed_the_due_day(minutes: int, due: date) -> None:
    instant = datetime(due.year, due.month, due.day, tzinfo=UTC) + timedelta(minutes=minutes)
    assert is_valid_at(instant, due, VIENNA) == (instant.astimezone(VIENNA).date() <= due)


def test_an_instant_names_its_zone() -> None:
    with pytest.raises(InstantWithoutZone):
        is_valid_at(datetime(2026, 1, 1), date(2026, 1, 1), UTC)  # noqa: DTZ001
