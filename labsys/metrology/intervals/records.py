"""As-found records of calibrations, and which of them may be counted.

Lives here: the record, the reasons to leave one out, real elapsed time. May not live here: statistics.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from labsys.errors import LabError

DAYS_PER_MONTH = 365.2425 / 12
"""A twelfth of the mean Gregorian year, in days."""


class LeftOut(StrEnum):
    """Why a record is not counted as an outcome."""

    FIRST_EVER = "first-ever calibration"
    NOT_AS_FOUND = "no as-found result"
    DAMAGED = "known damage"
    VOID = "calibration withdrawn"
    RE_EVALUATED = "standard later found wrong, result re-evaluated"
    LIMITED_SCOPE = "other functions or ranges than usual"
    LIMITS_UNKNOWN = "limits of then not recorded"
    NO_TIME_PASSED = "no time since the calibration before"
    OUTSIDE_WINDOW = "elapsed time outside the window around the interval"
    FAILED_BEFORE = "left out of tolerance at the calibration before"


class ElapsedTimeOutOfRange(LabError, ValueError):
    """A time between two calibrations that can't be one."""

    code = "elapsed-time-out-of-range"
    sentence = (
        "Expected the months that really passed since the calibration before, zero or more and finite, found {found}. "
        "Take them from the two calibration dates."
    )


class OutcomeMissing(LabError, ValueError):
    """A record that is to be counted and says neither in nor out."""

    code = "outcome-missing"
    sentence = (
        "Expected record {index} of item “{item}” to be in or out of tolerance as found, found neither. "
        "Enter the outcome or the reason to leave the record out."
    )


@dataclass(frozen=True, slots=True)
class Record:
    """One calibration of one item: real ``elapsed_months`` since the one before, as found in tolerance or not.

    ``left_out`` is the reason not to count it. ``was_renewed`` says whether the item was adjusted, repaired or replaced
    at the end of this calibration; None leaves it to the renewal policy. Any point out makes the item out.
    """

    item: str
    elapsed_months: float
    in_tolerance: bool | None
    was_renewed: bool | None = None
    left_out: LeftOut | None = None

    def __post_init__(self) -> None:
        """Refuse a time that is negative or not finite."""
        if not (math.isfinite(self.elapsed_months) and self.elapsed_months >= 0):
            raise ElapsedTimeOutOfRange(found=self.elapsed_months)


@dataclass(frozen=True, slots=True)
class DataCount:
    """How many records were counted, how many of these were in tolerance, how many were left out and why.

    ``in_tolerance`` is None where values were taken and not outcomes.
    """

    used: int
    in_tolerance: int | None
    left_out: Mapping[str, int]

    @property
    def out(self) -> int:
        """Give the number found out of tolerance, 0 where outcomes were not asked for."""
        return 0 if self.in_tolerance is None else self.used - self.in_tolerance


def elapsed_months(since_on: date, until_on: date) -> float:
    """Give the real time between two calibrations in months of 30.436875 days; raises ElapsedTimeOutOfRange."""
    days = (until_on - since_on).days
    if days < 0:
        raise ElapsedTimeOutOfRange(found=f"{days} days")
    return days / DAYS_PER_MONTH


def reason_to_leave_out(record: Record, index: int) -> LeftOut | None:
    """Say why ``record`` is not an outcome, None where it is one; raises OutcomeMissing."""
    if record.left_out is not None:
        return record.left_out
    if record.in_tolerance is None:
        raise OutcomeMissing(index=index, item=record.item)
    return LeftOut.NO_TIME_PASSED if record.elapsed_months == 0 else None


def usable(records: Sequence[Record]) -> tuple[list[Record], dict[str, int]]:
    """Part the records into those that count, and how many were left out for which reason."""
    kept: list[Record] = []
    reasons: Counter[str] = Counter()
    for index, record in enumerate(records):
        reason = reason_to_leave_out(record, index)
        if reason is None:
            kept.append(record)
        else:
            reasons[reason.value] += 1
    return kept, dict(reasons)


def count(kept: Sequence[Record], left_out: Mapping[str, int]) -> DataCount:
    """Count what is kept beside what was left out."""
    return DataCount(len(kept), sum(1 for one in kept if one.in_tolerance), left_out)
