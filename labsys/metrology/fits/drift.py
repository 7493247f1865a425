"""Drift of one gauge or standard from as-left to as-found, and when a limit is reached.

Lives here: the change since the last as-left value as a power series in time through the origin, and the times that
follow from it (requirements: the variables method of recalibration intervals). May not live here: policies that make
an interval of such a time.

Times have any one unit, values any one unit; the answers have the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.errors import LabError
from labsys.metrology.fits.least_squares import Scatter, Solution, Undetermined, solve
from labsys.metrology.fits.seeking import last_time, refuse_crossed
from labsys.metrology.fits.series import SeriesUnusable, series

MOST_DEGREE = 6


class NoScatter(LabError, ValueError):
    """Changes that lie on their curve exactly, which no real readings do."""

    code = "no-scatter"
    sentence = (
        "Expected changes that scatter about their curve, found none: a prediction would claim to be certain. "
        "Take readings of finer resolution or more of them."
    )


@dataclass(frozen=True, slots=True)
class Drift:
    """The change δ(t) = b₁·t + b₂·t² … with its spread, and the longest time it was seen over.

    ``solution`` holds the coefficients from b₁ on, their cofactors, s and ν.
    """

    solution: Solution
    longest: float

    @property
    def rate(self) -> float:
        """Give b₁, the change per unit of time at the beginning."""
        return self.solution.coefficients[0]

    def change(self, elapsed: float) -> float:
        """Give the mean change after a time."""
        return math.fsum(
            b * power for b, power in zip(self.solution.coefficients, self._row(elapsed), strict=True)
        )

    def u_change(self, elapsed: float) -> float:
        """Give the standard uncertainty of the mean change after a time, s·√(tCtᵀ)."""
        return self.solution.u_of(self._row(elapsed))

    def s_prediction(self, elapsed: float, *, u_new: float | None = None) -> float:
        """Give the standard deviation of one further change, s·√(1 + tCtᵀ); ``u_new`` as in a weighted fit."""
        return math.hypot(self.solution.s_of_new(u_new), self.u_change(elapsed))

    def _row(self, elapsed: float) -> list[float]:
        return [elapsed**power for power in range(1, len(self.solution.coefficients) + 1)]


@dataclass(frozen=True, slots=True)
class Reach:
    """The time up to which a target holds: infinite where it always does, 0 where it doesn't hold from the beginning.

    ``is_beyond_data`` where that is longer than any time seen (``longest``): a hope, not an observation.
    """

    time: float
    longest: float

    @property
    def is_beyond_data(self) -> bool:
        """Say whether the time was extrapolated."""
        return self.time > self.longest


def fit_drift(
    elapsed: Sequence[float],
    changes: Sequence[float],
    *,
    degree: int = 1,
    u: Sequence[float] | None = None,
    scatter: Scatter = Scatter.RESIDUAL,
) -> Drift:
    """Fit changes (as found minus the as-left value before it) against the time between the two, through the origin.

    ``u`` weights the changes where their uncertainties differ. Raises SeriesUnusable, TooFewPoints, Undetermined.
    """
    import numpy as np

    times = series(elapsed, "times")
    if (times < 0).any():
        raise SeriesUnusable(expected="times of zero or more", found=f"{times.min():g}")
    if not 1 <= degree <= MOST_DEGREE:
        raise SeriesUnusable(expected=f"a degree from 1 to {MOST_DEGREE}", found=degree)
    longest = float(times.max())
    if longest == 0:
        raise Undetermined(which=1)
    with np.errstate(all="ignore"):
        design = times[:, None] ** np.arange(1, degree + 1)
    return Drift(solve(design, changes, u=u, scatter=scatter), longest)


def reliability_at(
    drift: Drift,
    elapsed: float,
    *,
    as_left: float,
    lower: float | None,
    upper: float | None,
    u_new: float | None = None,
) -> float:
    """Give the probability that the value, ``as_left`` at the beginning, lies between the limits after a time.

    F_ν((upper − y₀ − δ)/s_p) − F_ν((lower − y₀ − δ)/s_p) with Student's distribution function F_ν (the normal one
    for stated u). A limit of None isn't there. Raises NoScatter, LimitsCrossed.
    """
    from scipy.special import stdtr

    refuse_crossed(lower, upper)
    spread = drift.s_prediction(elapsed, u_new=u_new)
    if spread == 0:
        raise NoScatter()
    middle, nu = as_left + drift.change(elapsed), drift.solution.freedom
    above = 0.0 if upper is None else float(stdtr(nu, (middle - upper) / spread))
    below = 0.0 if lower is None else float(stdtr(nu, (lower - middle) / spread))
    return max(0.0, 1.0 - above - below)


def predict_reach(
    drift: Drift,
    *,
    as_left: float,
    lower: float | None,
    upper: float | None,
    reliability: float,
    u_new: float | None = None,
) -> Reach:
    """Give the longest time after which the value is still between the limits with probability ``reliability``.

    It's the first time at which ``reliability_at`` falls below it. Raises NoScatter, LimitsCrossed, SeriesUnusable.
    """
    if not 0 < reliability < 1:
        raise SeriesUnusable(expected="a reliability above 0 and below 1", found=reliability)

    def holds(elapsed: float) -> bool:
        found = reliability_at(drift, elapsed, as_left=as_left, lower=lower, upper=upper, u_new=u_new)
        return found >= reliability

    return Reach(last_time(holds, drift.longest), drift.longest)


def predict_uncertainty_reach(
    drift: Drift, *, u_start: float, u_required: float, u_new: float | None = None
) -> Reach:
    """Give the longest time after which √(u₀² + s²(1 + tCtᵀ)) is at most ``u_required``.

    ``u_start`` is the standard uncertainty of the as-left value. Raises SeriesUnusable.
    """
    if not (0 <= u_start < math.inf and 0 < u_required < math.inf):
        raise SeriesUnusable(
            expected="standard uncertainties above zero", found=f"{u_start} and {u_required}"
        )

    def holds(elapsed: float) -> bool:
        return math.hypot(u_start, drift.s_prediction(elapsed, u_new=u_new)) <= u_required

    return Reach(last_time(holds, drift.longest), drift.longest)
