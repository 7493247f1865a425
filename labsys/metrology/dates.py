"""Due dates: months added to the day a calibration ended, the longest extension, the last instant a gauge is valid.

Lives here: calendar arithmetic, with every date and zone passed in. May not live here: which interval applies,
standing.
"""

from __future__ import annotations

import calendar
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from labsys.errors import LabError

LONGEST_EXTENSION_DAYS = 30
EXTENSION_SHARE = 10
"""An extension is at most a tenth of the interval (rounded down to whole days) and at most 30 days (common
practice, no source).
"""


class IntervalTooShort(LabError, ValueError):
    """A calibration interval of less than a month."""

    code = "interval-too-short"
    field = "interval_months"
    sentence = "Expected an interval of at least one month, found {found}. Enter whole months."


class DateOutOfRange(LabError, ValueError):
    """A date beyond the calendar."""

    code = "date-out-of-range"
    sentence = (
        "Expected a date between the years 1 and 9999, found {found}. Check the interval and the calibration "
        "date."
    )


class InstantWithoutZone(LabError, ValueError):
    """An instant that doesn't say which zone it is in."""

    code = "instant-without-zone"
    sentence = "Expected an instant with its time zone, found {found}. Pass an aware datetime."


def add_months(start_on: date, months: int) -> date:
    """Add ``months`` to ``start_on``, clamped to the end of the month: 2025-01-31 and 1 give 2025-02-28.

    Always add to the original date; chaining clamped dates loses days. Raises DateOutOfRange.
    """
    count = start_on.year * 12 + start_on.month - 1 + months
    year, month = count // 12, count % 12 + 1
    if not date.min.year <= year <= date.max.year:
        raise DateOutOfRange(found=f"{start_on} and {months} months")
    return date(year, month, min(start_on.day, calendar.monthrange(year, month)[1]))


def due_on(calibration_ended_on: date, interval_months: int) -> date:
    """Give the due day: the end of the calibration plus the interval (convention D1); raises IntervalTooShort."""
    if interval_months < 1:
        raise IntervalTooShort(found=interval_months)
    return add_months(calibration_ended_on, interval_months)


def extension_cap_days(calibration_ended_on: date, interval_months: int) -> int:
    """Give the longest extension in days: a tenth of the interval's real days, rounded down, at most 30."""
    days = (due_on(calibration_ended_on, interval_months) - calibration_ended_on).days
    return min(days // EXTENSION_SHARE, LONGEST_EXTENSION_DAYS)


def latest_due_on(calibration_ended_on: date, interval_months: int) -> date:
    """Give the day that no due date may pass, whatever is combined: interval plus the longest extension."""
    cap = timedelta(days=extension_cap_days(calibration_ended_on, interval_months))
    due = due_on(calibration_ended_on, interval_months)
    if due > date.max - cap:
        raise DateOutOfRange(found=f"{due} and {cap.days} days")
    return due + cap


def first_overdue_instant(due_day: date, zone: tzinfo) -> datetime:
    """Give the instant (UTC) at which a gauge due on ``due_day`` becomes overdue: midnight after that day in
    the lab's ``zone``.
    """
    if due_day == date.max:
        raise DateOutOfRange(found=f"the day after {due_day}")
    return datetime.combine(due_day + timedelta(days=1), time.min, tzinfo=zone).astimezone(UTC)


def last_valid_instant(due_day: date, zone: tzinfo) -> datetime:
    """Give the last instant (UTC, to the microsecond) of ``due_day`` in the lab's ``zone``: a gauge is valid
    through that day's end.
    """
    return first_overdue_instant(due_day, zone) - timedelta(microseconds=1)


def is_valid_at(instant: datetime, due_day: date, zone: tzinfo) -> bool:
    """Say whether ``instant`` (aware) lies before the end of ``due_day`` in ``zone``; raises InstantWithoutZone."""
    if instant.tzinfo is None:
        raise InstantWithoutZone(found=instant.isoformat())
    return instant < first_overdue_instant(due_day, zone)
