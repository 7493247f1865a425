"""Calibration curves: a straight line or polynomial through values, with its confidence and prediction intervals.

Lives here: the fit in a centred and scaled abscissa, and what it says in the abscissa's own unit. May not live here:
reading a curve backwards (inverse.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from labsys.errors import LabError
from labsys.metrology.coverage import student_factor
from labsys.metrology.fits.least_squares import Interval, Scatter, Solution, solve
from labsys.metrology.fits.series import SeriesUnusable, series

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_DEGREE: Final = 10


class PlacesTooFew(LabError, ValueError):
    """Too few different places for the degree of a polynomial."""

    code = "places-too-few"
    sentence = (
        "Expected at least {needed} different places for a polynomial of degree {degree}, found {found}. "
        "Take points at other places or a lower degree."
    )


@dataclass(frozen=True, slots=True)
class Curve:
    """A polynomial in z = (x − ``centre``)/``half``, so that z runs from −1 to 1 over the range of the points.

    ``solution`` holds the coefficients of the powers of z; ``regression_sum`` is Σ((ŷ − ȳ)/u)².
    """

    solution: Solution
    centre: float
    half: float
    regression_sum: float

    @property
    def degree(self) -> int:
        """Give the highest power."""
        return len(self.solution.coefficients) - 1

    @property
    def lowest(self) -> float:
        """Give the lower end of the points."""
        return self.centre - self.half

    @property
    def highest(self) -> float:
        """Give the upper end of the points."""
        return self.centre + self.half

    @property
    def coefficients(self) -> tuple[float, ...]:
        """Give b₀, b₁ … of y = b₀ + b₁·x + b₂·x² …"""
        return tuple(
            math.fsum(part * b for part, b in zip(row, self.solution.coefficients, strict=True))
            for row in self._powers()
        )

    @property
    def covariance(self) -> tuple[tuple[float, ...], ...]:
        """Give the covariance matrix of ``coefficients``."""
        import numpy as np

        turn = np.array(self._powers())
        rows = (turn @ np.array(self.solution.covariance) @ turn.T).tolist()
        return tuple(tuple(row) for row in rows)

    @property
    def residual_sum(self) -> float:
        """Give Σ((y − ŷ)/u)² = ν·s²."""
        return self.solution.nu * self.solution.s**2

    @property
    def r_squared(self) -> float | None:
        """Give the share of the sum of squares that the curve explains; None where all values are equal."""
        whole = self.regression_sum + self.residual_sum
        return None if whole == 0 else self.regression_sum / whole

    def value(self, x: float) -> float:
        """Give the curve at ``x``."""
        return math.fsum(b * power for b, power in zip(self.solution.coefficients, self._row(x), strict=True))

    def slope(self, x: float) -> float:
        """Give the slope at ``x``, per unit of x."""
        powers = [k * part for k, part in enumerate(self._row(x)[:-1], 1)]
        return (
            math.fsum(b * p for b, p in zip(self.solution.coefficients[1:], powers, strict=True)) / self.half
        )

    def u_value(self, x: float) -> float:
        """Give the standard uncertainty of the curve at ``x``."""
        return self.solution.u_of(self._row(x))

    def confidence(self, x: float, *, probability: float) -> Interval:
        """Give the interval for the true curve at ``x``; raises ProbabilityOutOfRange."""
        factor = student_factor(probability, self.solution.freedom)
        return Interval(self.value(x), self.u_value(x), factor)

    def prediction(
        self, x: float, *, probability: float, count: int = 1, u_new: float | None = None
    ) -> Interval:
        """Give the interval for the mean of ``count`` further values at ``x``.

        ``u_new`` is the u of one of them, required in a weighted fit. Raises ProbabilityOutOfRange, SeriesUnusable.
        """
        if count < 1:
            raise SeriesUnusable(expected="at least one further value", found=count)
        u = math.hypot(self.solution.s_of_new(u_new) / math.sqrt(count), self.u_value(x))
        return Interval(self.value(x), u, student_factor(probability, self.solution.freedom))

    def is_extrapolated(self, x: float) -> bool:
        """Say whether ``x`` lies outside the points."""
        return abs(x - self.centre) > self.half * (1 + 1e-12)

    def z(self, x: float) -> float:
        """Give the scaled abscissa of ``x``."""
        return (x - self.centre) / self.half

    def _row(self, x: float) -> list[float]:
        return [self.z(x) ** power for power in range(self.degree + 1)]

    def _powers(self) -> list[list[float]]:
        """Give the matrix that turns coefficients of z into those of x: ((x − c)/h)ʲ = Σ C(j, k)·xᵏ·(−c)ʲ⁻ᵏ/hʲ."""
        size = self.degree + 1
        return [
            [
                math.comb(j, k) * (-self.centre) ** (j - k) / self.half**j if k <= j else 0.0
                for j in range(size)
            ]
            for k in range(size)
        ]


def fit_curve(
    x: Sequence[float],
    y: Sequence[float],
    *,
    degree: int = 1,
    u: Sequence[float] | None = None,
    scatter: Scatter = Scatter.RESIDUAL,
) -> Curve:
    """Fit a polynomial to ``y`` at ``x`` by least squares, weighted with 1/u² where ``u`` is given.

    x without uncertainty of its own. Raises SeriesUnusable, PlacesTooFew, TooFewPoints, Undetermined.
    """
    import numpy as np

    places = series(x, "places")
    if not 0 <= degree <= MOST_DEGREE:
        raise SeriesUnusable(expected=f"a degree from 0 to {MOST_DEGREE}", found=degree)
    different = len(np.unique(places))
    if different < max(2, degree + 1):
        raise PlacesTooFew(needed=max(2, degree + 1), degree=degree, found=different)
    low, high = float(places.min()), float(places.max())
    centre, half = low / 2 + high / 2, high / 2 - low / 2
    design = ((places - centre) / half)[:, None] ** np.arange(degree + 1)
    solution = solve(design, y, u=u, scatter=scatter)
    return Curve(solution, centre, half, _regression_sum(np.asarray(y, dtype=np.float64), solution, u))


def _regression_sum(y: NDArray[np.float64], solution: Solution, u: Sequence[float] | None) -> float:
    import numpy as np

    weights = np.ones(len(y)) if u is None else 1 / np.asarray(u, dtype=np.float64) ** 2
    if np.ptp(y) == 0:
        return 0.0
    fitted = y - np.array(solution.residuals)
    with np.errstate(all="ignore"):
        found = float(np.sum(weights * (fitted - np.average(y, weights=weights)) ** 2))
    if not math.isfinite(found):
        raise SeriesUnusable(expected="values whose squares can be worked with", found="an overflow")
    return found
