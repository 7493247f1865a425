"""The periodic error of a scale: amplitude and phase at a known period, from errors at lengths of differing phase.

Lives here: the sinusoid with offset and, where wanted, trend. May not live here: the choice of points (plan.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from labsys.errors import LabError
from labsys.metrology.fits.least_squares import Scatter, Solution, solve
from labsys.metrology.fits.series import SeriesUnusable, series

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SAME_PHASE: Final = 1e-6
"""Phases that differ by less than this share of a period count as one."""
LEAST_PHASES: Final = 3


class PhasesTooFew(LabError, ValueError):
    """Points that fall on one or two phases of the period, so that a periodic error can't be told from an offset."""

    code = "phases-too-few"
    sentence = (
        "Expected points at {needed} different phases of the period {period:g} or more, found {found}: {phases}. "
        "Points a whole number of periods apart all see the same error; take lengths that aren't."
    )


@dataclass(frozen=True, slots=True)
class PeriodicError:
    """E(x) = offset + trend·(x − x̄) + amplitude·sin(2πx/period + phase); phase in radians, from −π to π.

    ``phase`` and ``u_phase`` are None where the amplitude is zero. ``p_value`` is the probability of residuals that
    look at least as periodic where there's no periodic error (F test of both coefficients); None without any scatter.
    An amplitude can't be negative, so that a small one comes out too large: mind ``p_value`` first.
    """

    period: float
    amplitude: float
    u_amplitude: float
    phase: float | None
    u_phase: float | None
    p_value: float | None
    offset: float
    trend: float | None
    u_trend: float | None
    middle: float
    solution: Solution

    def error(self, x: float) -> float:
        """Give the fitted error at ``x``."""
        sine, cosine = _turn(x, self.period)
        a, b = self.solution.coefficients[1:3]
        return self.offset + a * sine + b * cosine + (self.trend or 0.0) * (x - self.middle)


def phases(lengths: Sequence[float], period: float) -> tuple[float, ...]:
    """Give the phase of each length within ``period``, from 0 up to below 1; raises SeriesUnusable."""
    places = series(lengths, "lengths")
    if not 0 < period < math.inf:
        raise SeriesUnusable(expected="a period above zero", found=period)
    return tuple((places / period % 1.0).tolist())


def fit_periodic(
    lengths: Sequence[float],
    errors: Sequence[float],
    *,
    period: float,
    with_trend: bool = False,
    u: Sequence[float] | None = None,
    scatter: Scatter = Scatter.RESIDUAL,
) -> PeriodicError:
    """Fit offset, sine and cosine (and a straight trend) by linear least squares; lengths and period in one unit.

    u of amplitude and phase by first-order propagation with their covariance (JCGM 100:2008, 5.2.2). Raises
    SeriesUnusable, PhasesTooFew, TooFewPoints, Undetermined.
    """
    found = phases(lengths, period)
    _refuse_few(found, period)
    design, middle = _design(lengths, period, with_trend=with_trend)
    solution = solve(design, errors, u=u, scatter=scatter)
    return _described(solution, period, middle)


def _design(
    lengths: Sequence[float], period: float, *, with_trend: bool
) -> tuple[NDArray[np.float64], float]:
    import numpy as np

    places = np.asarray(lengths, dtype=np.float64)
    middle = float(places.mean())
    columns = [np.ones(len(places)), *np.array([_turn(x, period) for x in places.tolist()]).T]
    return np.column_stack([*columns, places - middle] if with_trend else columns), middle


def _turn(x: float, period: float) -> tuple[float, float]:
    """Give sine and cosine of the phase; whole turns are taken off first, where they can be without any loss."""
    angle = 2 * math.pi * math.fmod(x, period) / period
    return math.sin(angle), math.cos(angle)


def _described(solution: Solution, period: float, middle: float) -> PeriodicError:
    offset, a, b, *rest = solution.coefficients
    amplitude, v = math.hypot(a, b), solution.covariance
    own, mixed, other = v[1][1], v[1][2], v[2][2]
    is_seen = amplitude > 0
    # Without an amplitude every direction is as good; the larger of the two spreads is the cautious one.
    along = (a * a * own + 2 * a * b * mixed + b * b * other) / amplitude**2 if is_seen else max(own, other)
    across = (b * b * own - 2 * a * b * mixed + a * a * other) / amplitude**2 if is_seen else 0.0
    return PeriodicError(
        period=period,
        amplitude=amplitude,
        u_amplitude=math.sqrt(max(0.0, along)),
        phase=math.atan2(b, a) if is_seen else None,
        u_phase=math.sqrt(max(0.0, across)) / amplitude if is_seen else None,
        p_value=_p_value(solution),
        offset=offset,
        trend=rest[0] if rest else None,
        u_trend=math.sqrt(v[3][3]) if rest else None,
        middle=middle,
        solution=solution,
    )


def _p_value(solution: Solution) -> float | None:
    """Test both coefficients at once: F = bᵀV⁻¹b/2 with 2 and ν degrees of freedom (χ²/2 for stated u)."""
    from scipy.special import chdtrc, fdtrc

    (own, mixed), (_, other) = (row[1:3] for row in solution.covariance[1:3])
    determinant = own * other - mixed * mixed
    if determinant <= 0:
        return None
    a, b = solution.coefficients[1:3]
    squares = (a * a * other - 2 * a * b * mixed + b * b * own) / determinant
    if solution.scatter is Scatter.STATED:
        return float(chdtrc(2, squares))
    return float(fdtrc(2, solution.nu, squares / 2))


def _refuse_few(found: Sequence[float], period: float) -> None:
    different: list[float] = []
    for phase in found:
        if all(_apart(phase, other) > SAME_PHASE for other in different):
            different.append(phase)
    if len(different) < LEAST_PHASES:
        shown = ", ".join(f"{phase:.3f}" for phase in sorted(different))
        raise PhasesTooFew(needed=LEAST_PHASES, period=period, found=len(different), phases=shown)


def _apart(one: float, other: float) -> float:
    """Give the distance of two phases round the circle."""
    distance = abs(one - other)
    return min(distance, 1 - distance)
