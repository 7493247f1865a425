"""The check of a linear calibration: do standards at its lower end, middle and upper end still read right?

Lives here: control values and limits of a calibration line in use. May not live here: fitting it (fits).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.metrology.charts.baseline import ON_THE_LIMIT
from labsys.metrology.coverage import ProbabilityOutOfRange, student_factor
from labsys.metrology.fits.series import SeriesUnusable, series


@dataclass(frozen=True, slots=True)
class CalibrationLine:
    """y = intercept + slope·x with the residual spread s and ν of the very fit that gave both."""

    intercept: float
    slope: float
    s: float
    nu: float


@dataclass(frozen=True, slots=True)
class LineCheck:
    """Control values w = (y − b₀)/b₁ − x, their limit ± ``limit`` = s·t*/b₁, and the places of those outside."""

    control_values: tuple[float, ...]
    t_star: float
    limit: float
    outside: tuple[int, ...]


def check_line(
    line: CalibrationLine,
    known: Sequence[float],
    observed: Sequence[float],
    *,
    probability: float = 0.95,
    places: int = 3,
) -> LineCheck:
    """Check readings ``observed`` of standards ``known`` against a frozen line (NIST/SEMATECH e-Handbook, 2.3.7).

    t* is Student's factor at 1 − (1 − p^{1/m}) for m = ``places`` standards read on one occasion, so that all of them
    together stay inside with ``probability``. Raises SeriesUnusable, ProbabilityOutOfRange, TooLittleFreedom.
    """
    x, y = series(known, "known values"), series(observed, "observed values")
    if len(x) != len(y) or places < 1 or line.slope == 0 or not 0 <= line.s < math.inf:
        raise SeriesUnusable(
            expected="as many observed as known values, one place or more, a slope and a residual spread",
            found=f"{len(y)} and {len(x)}, {places}, {line.slope:g} and {line.s:g}",
        )
    if not 0 < probability < 1:
        raise ProbabilityOutOfRange(found=probability)
    control = ((y - line.intercept) / line.slope - x).tolist()
    t_star = student_factor(probability ** (1 / places), line.nu)
    limit = abs(line.s * t_star / line.slope)
    outside = tuple(i for i, w in enumerate(control) if abs(w) > limit * (1 + ON_THE_LIMIT))
    return LineCheck(tuple(control), t_star, limit, outside)
