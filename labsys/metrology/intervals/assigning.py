"""From a computed to an assigned interval: the bounds of one step, of the range, of what was ever observed; rounding.

Lives here: the assignment rules (common practice, no standard fixes the figures). May not live here: any method.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from labsys.errors import LabError

STEPS_UP: Final = (1, 2, 3, 4, 6, 9, 12, 15, 18, 24, 30, 36, 48, 60)
"""Months that a lengthened interval is rounded down to; beyond 60, whole years (common practice, no source)."""

EXTRAPOLATION: Final = 1.25
"""No interval beyond this many times the longest time observed between two checks (common practice, no source)."""


class Change(StrEnum):
    """What is to be done with the interval."""

    LENGTHEN = "lengthen"
    KEEP = "keep"
    SHORTEN = "shorten"


class Cap(StrEnum):
    """What held a proposal back."""

    STEP_UP = "largest step up"
    STEP_DOWN = "largest step down"
    OBSERVED = "longest observed time"
    MAXIMUM = "maximum of the family"
    MINIMUM = "minimum of the family"
    ROUNDING = "rounding"


class IntervalOutOfRange(LabError, ValueError):
    """An interval that is none."""

    code = "interval-out-of-range"
    field = "interval_months"
    sentence = "Expected an interval of more than zero months, found {found}. Enter the assigned interval."


class BoundsCrossed(LabError, ValueError):
    """Bounds of an interval that leave nothing between them."""

    code = "interval-bounds-crossed"
    sentence = (
        "Expected bounds with 1 ≤ minimum ≤ maximum and 0 < least factor ≤ 1 ≤ most factor ≤ 2, found minimum "
        "{minimum}, maximum {maximum}, factors {least} and {most}. Correct the bounds of the family."
    )


@dataclass(frozen=True, slots=True)
class Bounds:
    """What an assigned interval may be: the family's range in whole months, the largest step at once.

    ``most_factor`` is at most 2: an interval is never more than doubled at once. Raises BoundsCrossed.
    """

    minimum_months: int = 1
    maximum_months: int = 60
    least_factor: float = 0.5
    most_factor: float = 2.0

    def __post_init__(self) -> None:
        """Refuse bounds that leave no room."""
        if not (
            1 <= self.minimum_months <= self.maximum_months
            and 0 < self.least_factor <= 1 <= self.most_factor <= 2
        ):
            raise BoundsCrossed(
                minimum=self.minimum_months,
                maximum=self.maximum_months,
                least=self.least_factor,
                most=self.most_factor,
            )


@dataclass(frozen=True, slots=True)
class Assigned:
    """What the assignment rules make of a computed interval: bounded, then rounded to whole months."""

    change: Change
    bounded_months: float
    months: int
    caps: tuple[Cap, ...]


def assign(
    assigned_months: int, raw_months: float, bounds: Bounds, *, reach_months: float | None = None
) -> Assigned:
    """Bound and round a computed interval.

    In this order: the step, ``reach_months`` beyond which nothing was observed (only against lengthening), the family's
    minimum (never by more than the largest step) and maximum (which wins over all), rounding: a shorter interval down
    to whole months, a longer one down to the usual ones. Raises IntervalOutOfRange.
    """
    _refuse_unless_interval(assigned_months)
    if math.isnan(raw_months):
        raise IntervalOutOfRange(found=raw_months)
    value, caps = _within_step(assigned_months, raw_months, bounds)
    if reach_months is not None and value > max(assigned_months, reach_months):
        value, caps = max(float(assigned_months), reach_months), [*caps, Cap.OBSERVED]
    bounded, caps = _within_range(assigned_months, value, bounds, caps)
    months = _rounded(assigned_months, bounded, bounds)
    if months != bounded:
        caps.append(Cap.ROUNDING)
    return Assigned(_change(assigned_months, months), bounded, months, tuple(caps))


def _within_step(assigned: int, raw: float, bounds: Bounds) -> tuple[float, list[Cap]]:
    most, least = bounds.most_factor * assigned, bounds.least_factor * assigned
    if raw > most:
        return most, [Cap.STEP_UP]
    return (least, [Cap.STEP_DOWN]) if raw < least else (float(raw), [])


def _within_range(assigned: int, value: float, bounds: Bounds, caps: list[Cap]) -> tuple[float, list[Cap]]:
    if value < bounds.minimum_months:
        value, caps = min(float(bounds.minimum_months), bounds.most_factor * assigned), [*caps, Cap.MINIMUM]
    if value > bounds.maximum_months:
        value, caps = float(bounds.maximum_months), [*caps, Cap.MAXIMUM]
    return value, caps


def _rounded(assigned: int, value: float, bounds: Bounds) -> int:
    # A product that should be 15 may come out as 14.999999999999998.
    whole = math.floor(value + 1e-9)
    if value <= assigned:
        return max(whole, 1)
    usual = [one for one in (*STEPS_UP, whole - whole % 12 if whole > STEPS_UP[-1] else 1) if one <= whole]
    forced = min(bounds.minimum_months, whole)
    return max(assigned, forced, *usual)


def _change(assigned: int, months: int) -> Change:
    if months == assigned:
        return Change.KEEP
    return Change.LENGTHEN if months > assigned else Change.SHORTEN


def _refuse_unless_interval(months: float) -> None:
    if not (math.isfinite(months) and months >= 1):
        raise IntervalOutOfRange(found=months)
