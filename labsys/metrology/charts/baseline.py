"""Freezing a baseline and judging single values against it.

Lives here: centre, spread and limits of an individuals chart. May not live here: patterns of several values (rules.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from labsys.errors import LabError
from labsys.metrology.charts.constants import D2, RANGE_LIMIT, moving_range_freedom
from labsys.metrology.coverage import student_factor
from labsys.metrology.fits.series import SeriesUnusable, series

ON_THE_LIMIT: Final = 1e-9
"""A value this little beyond a limit, as a share of the limit's distance, is on it: the last bits mustn't decide."""
LAST_BITS: Final = 1e-14
"""A spread below this share of the values is the last bits of the arithmetic."""


class SpreadMethod(StrEnum):
    """How the baseline's spread is found: the mean moving range over d₂, or the standard deviation of all values."""

    MOVING_RANGE = "moving_range"
    STANDARD_DEVIATION = "standard_deviation"


class ChartStatus(StrEnum):
    """Where a value lies: inside the warning limits, between them and the action limits, or outside."""

    IN = "in"
    WARNING = "warning"
    OUT = "out"


class BaselineTooShort(LabError, ValueError):
    """A baseline that has no spread yet."""

    code = "baseline-too-short"
    sentence = "Expected a baseline of at least {needed} values, found {found}. Take more check measurements."


class BaselineWithoutSpread(LabError, ValueError):
    """A baseline whose values are all equal."""

    code = "baseline-without-spread"
    sentence = (
        "Expected a baseline that varies, found {found} equal values. Read with finer resolution, or draw limits from "
        "the uncertainty instead."
    )


@dataclass(frozen=True, slots=True)
class Baseline:
    """Frozen centre and spread: ``s`` with ``nu`` degrees of freedom from ``count`` values by ``method``."""

    centre: float
    s: float
    nu: float
    count: int
    method: SpreadMethod

    def z(self, value: float) -> float:
        """Give the distance from the centre in spreads."""
        return (value - self.centre) / self.s

    def limits(self, multiple: float) -> tuple[float, float]:
        """Give centre ± multiple·s."""
        return self.centre - multiple * self.s, self.centre + multiple * self.s

    def student_limits(self, probability: float) -> tuple[float, float]:
        """Give centre ± t_p(ν)·s, as for a check standard (NIST/SEMATECH e-Handbook, 2.2.2.1)."""
        return self.limits(student_factor(probability, self.nu))

    @property
    def largest_moving_range(self) -> float:
        """Give the upper limit of the moving range, D₄·d₂·s (ISO 7870-2)."""
        return RANGE_LIMIT * D2 * self.s

    def judge(self, value: float, *, warning: float = 2.0, action: float = 3.0) -> ChartStatus:
        """Say where ``value`` lies; on a limit is inside it. Raises SeriesUnusable."""
        if not (math.isfinite(value) and 0 < warning <= action < math.inf):
            raise SeriesUnusable(
                expected="a finite value and warning limits inside the action limits",
                found=f"{value}, {warning} and {action}",
            )
        distance = abs(self.z(value)) / (1 + ON_THE_LIMIT)
        if distance > action:
            return ChartStatus.OUT
        return ChartStatus.WARNING if distance > warning else ChartStatus.IN


def freeze(values: Sequence[float], *, method: SpreadMethod = SpreadMethod.STANDARD_DEVIATION) -> Baseline:
    """Freeze the mean and the spread of a baseline in the order it was taken.

    MOVING_RANGE: s = mean |xᵢ − xᵢ₋₁|/d₂ (ISO 7870-2, individuals), which slow drift doesn't inflate;
    STANDARD_DEVIATION: the ordinary s with ν = n − 1 (e-Handbook 2.2.2.1), which holds drift too. Raises
    SeriesUnusable, BaselineTooShort, BaselineWithoutSpread.
    """
    import numpy as np

    taken = series(values, "baseline values")
    if len(taken) < 2:
        raise BaselineTooShort(needed=2, found=len(taken))
    with np.errstate(all="ignore"):
        if method is SpreadMethod.MOVING_RANGE:
            s, nu = float(np.abs(np.diff(taken)).mean()) / D2, moving_range_freedom(len(taken))
        else:
            s, nu = float(taken.std(ddof=1)), float(len(taken) - 1)
        centre = float(taken.mean())
    if not (math.isfinite(s) and math.isfinite(centre)):
        raise SeriesUnusable(expected="values whose squares can be worked with", found="an overflow")
    if s <= LAST_BITS * float(np.abs(taken).max()):
        raise BaselineWithoutSpread(found=len(taken))
    return Baseline(centre, s, nu, len(taken), method)
