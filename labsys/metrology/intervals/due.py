"""Due dates by the conventions in use, none later than the cap, and whether an extension may be given.

Lives here: conventions and the judgement on an extension, with every date passed in. May not live here: calendar
arithmetic and the cap (dates.py), who decides.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from labsys.errors import LabError
from labsys.metrology.dates import add_months, due_on, extension_cap_days, latest_due_on

SOURCES = ("conventions and cap: common practice, no standard fixes them",)


class Convention(StrEnum):
    """From what the due date is counted, by the word it has in a file."""

    CALIBRATION = "from_calibration"
    FIRST_USE = "from_first_use"
    MONTH_END = "end_of_month"
    ANNIVERSARY = "kept_anniversary"
    USES = "by_number_of_uses"
    EVENT = "by_event"


class DatesCrossed(LabError, ValueError):
    """Dates of one cycle in an order they can't have."""

    code = "due-dates-crossed"
    sentence = "Expected {later} on or after {earlier}, found {found} before {than}. Correct the dates."


class CountOutOfRange(LabError, ValueError):
    """Shelf months or uses that can't be counted."""

    code = "due-count-out-of-range"
    sentence = "Expected {what}, found {found}. Correct the number."


@dataclass(frozen=True, slots=True)
class DueDate:
    """What a convention gives, the day no due date may pass, and the earlier of both, which holds."""

    convention: Convention
    by_convention_on: date
    latest_on: date

    @property
    def due_on(self) -> date:
        """Give the day that holds."""
        return min(self.by_convention_on, self.latest_on)

    @property
    def is_capped(self) -> bool:
        """Say whether the cap holds and not the convention."""
        return self.by_convention_on > self.latest_on


def from_calibration(calibrated_on: date, months: int) -> DueDate:
    """Give the end of the calibration plus the interval (D1); raises IntervalTooShort, DateOutOfRange."""
    return _due(Convention.CALIBRATION, calibrated_on, months, due_on(calibrated_on, months))


def from_first_use(
    calibrated_on: date, months: int, *, first_used_on: date | None, shelf_months: int
) -> DueDate:
    """Give first use plus the interval, at most calibration plus interval plus ``shelf_months`` (D2).

    Not yet used (None): the latter. Only for items shown to be stable on the shelf, with evidence of sealed storage.
    The cap of every due date holds all the same. Raises DatesCrossed, CountOutOfRange, IntervalTooShort.
    """
    if shelf_months < 0:
        raise CountOutOfRange(what="zero or more months on the shelf", found=shelf_months)
    stored = due_on(calibrated_on, months + shelf_months)
    if first_used_on is None:
        return _due(Convention.FIRST_USE, calibrated_on, months, stored)
    _refuse_before(first_used_on, calibrated_on, "the first use", "the calibration")
    return _due(Convention.FIRST_USE, calibrated_on, months, min(due_on(first_used_on, months), stored))


def at_month_end(calibrated_on: date, months: int) -> DueDate:
    """Give the last day of the month in which calibration plus interval falls (D3)."""
    day = due_on(calibrated_on, months)
    last = day.replace(day=calendar.monthrange(day.year, day.month)[1])
    return _due(Convention.MONTH_END, calibrated_on, months, last)


def on_anniversary(calibrated_on: date, months: int, *, old_due_on: date) -> DueDate:
    """Give the old due date plus the interval for a calibration early by at most the cap, otherwise as D1 (D4)."""
    early = (old_due_on - calibrated_on).days
    is_kept = 0 <= early <= extension_cap_days(calibrated_on, months)
    day = add_months(old_due_on, months) if is_kept else due_on(calibrated_on, months)
    return _due(Convention.ANNIVERSARY, calibrated_on, months, day)


def by_uses(calibrated_on: date, months: int, *, uses: int, most_uses: int, today: date) -> DueDate:
    """Give ``today`` once ``uses`` have reached ``most_uses``, otherwise as D1, whichever is first (D5)."""
    if uses < 0 or most_uses < 1:
        raise CountOutOfRange(what="zero or more uses of one or more allowed", found=f"{uses} of {most_uses}")
    _refuse_before(today, calibrated_on, "today", "the calibration")
    day = due_on(calibrated_on, months)
    return _due(Convention.USES, calibrated_on, months, min(day, today) if uses >= most_uses else day)


def by_event(calibrated_on: date, months: int, *, happened_on: date) -> DueDate:
    """Give the day of an overload, repair, move or alarm, where it is before the end of the interval (D7)."""
    _refuse_before(happened_on, calibrated_on, "the event", "the calibration")
    day = min(due_on(calibrated_on, months), happened_on)
    return _due(Convention.EVENT, calibrated_on, months, day)


@dataclass(frozen=True, slots=True)
class ExtensionAsked:
    """An extension to ``until_on``, decided on ``decided_on``, and what speaks against it."""

    until_on: date
    decided_on: date
    was_extended: bool = False
    is_reference_standard: bool = False
    was_out_of_tolerance: bool = False
    is_check_failing: bool = False


@dataclass(frozen=True, slots=True)
class ExtensionJudged:
    """The day that can't be passed, and every reason to refuse; none says that it may be given."""

    latest_on: date
    reasons: tuple[str, ...]

    @property
    def is_refused(self) -> bool:
        """Say whether it is refused."""
        return bool(self.reasons)


def judge_extension(due: DueDate, asked: ExtensionAsked) -> ExtensionJudged:
    """Judge an extension: once per cycle, before the due date, at most a tenth of the interval and 30 days."""
    reasons = (
        (asked.until_on > due.latest_on, f"beyond the latest possible day, {due.latest_on}"),
        (asked.until_on <= due.due_on, f"not after the due date, {due.due_on}"),
        (asked.decided_on >= due.due_on, "not decided before the due date"),
        (asked.was_extended, "extended once already in this cycle"),
        (asked.is_reference_standard, "a reference standard is never extended"),
        (asked.was_out_of_tolerance, "out of tolerance at the last calibration"),
        (asked.is_check_failing, "an intermediate check fails"),
    )
    return ExtensionJudged(due.latest_on, tuple(words for holds, words in reasons if holds))


def _due(convention: Convention, calibrated_on: date, months: int, day: date) -> DueDate:
    return DueDate(convention, day, latest_due_on(calibrated_on, months))


def _refuse_before(later_on: date, earlier_on: date, later: str, earlier: str) -> None:
    if later_on < earlier_on:
        raise DatesCrossed(later=later, earlier=earlier, found=later_on, than=earlier_on)
