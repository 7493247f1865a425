"""Linear least squares by orthogonal decomposition: coefficients, cofactors, residual spread, degrees of freedom.

Lives here: what every fit shares. May not live here: what the columns of a design mean.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from labsys.errors import LabError
from labsys.metrology.fits.series import SeriesUnusable, series, spreads

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEAST_INDEPENDENCE = 1e-12
"""Smallest share of a column (of length one) that must not be expressible by the columns before it."""

LEAST_SCATTER = 1e-14
"""Residuals below this share of the values are the last bits of the arithmetic, not scatter of the values."""


class Scatter(StrEnum):
    """Where the spread of the values comes from.

    RESIDUAL: from the residuals, u only gives their ratios (covariance s²·C, Student's t with ν). STATED: from the
    stated u (covariance C, normal); then s says whether they were stated well.
    """

    RESIDUAL = "residual"
    STATED = "stated"


class TooFewPoints(LabError, ValueError):
    """Fewer points than the coefficients and their spread need."""

    code = "too-few-points"
    sentence = (
        "Expected at least {needed} points for {coefficients} coefficients and their spread, found {found}. "
        "Take more points or a simpler form."
    )


class Undetermined(LabError, ValueError):
    """Points that don't tell the coefficients apart."""

    code = "undetermined"
    sentence = (
        "Expected points that tell the coefficients apart, found that coefficient {which} follows from the others. "
        "Take points at other places or a simpler form."
    )


@dataclass(frozen=True, slots=True)
class Interval:
    """A value with its limits: ``middle`` ± ``factor`` · ``u``, in the unit of the values."""

    middle: float
    u: float
    factor: float

    @property
    def lower(self) -> float:
        """Give the lower limit."""
        return self.middle - self.factor * self.u

    @property
    def upper(self) -> float:
        """Give the upper limit."""
        return self.middle + self.factor * self.u


@dataclass(frozen=True, slots=True)
class Solution:
    """Coefficients b of y = A·b, cofactors C = (AᵀWA)⁻¹ with W = 1/u², residuals y − A·b.

    ``s`` is √(Σ(residual/u)²/ν): in the unit of y where no u was given, otherwise a plain number that should be near 1.
    """

    coefficients: tuple[float, ...]
    cofactors: tuple[tuple[float, ...], ...]
    residuals: tuple[float, ...]
    s: float
    nu: int
    scatter: Scatter
    is_weighted: bool

    @property
    def scale(self) -> float:
        """Give what C is multiplied with, twice, to be a covariance: s, or 1 where u was stated."""
        return self.s if self.scatter is Scatter.RESIDUAL else 1.0

    @property
    def freedom(self) -> float:
        """Give the degrees of freedom that intervals are drawn with."""
        return float(self.nu) if self.scatter is Scatter.RESIDUAL else math.inf

    @property
    def covariance(self) -> tuple[tuple[float, ...], ...]:
        """Give the covariance matrix of the coefficients."""
        return tuple(tuple(self.scale**2 * one for one in row) for row in self.cofactors)

    def u_of(self, row: Sequence[float]) -> float:
        """Give the standard uncertainty of row·b."""
        halves = (
            left * right * cofactor
            for left, line in zip(row, self.cofactors, strict=True)
            for right, cofactor in zip(row, line, strict=True)
        )
        return self.scale * math.sqrt(max(0.0, math.fsum(halves)))

    def s_of_new(self, u_new: float | None) -> float:
        """Give the standard deviation of one further value about the true curve.

        ``u_new`` is its u, in a weighted fit required, since the fit can't know it: as a ratio, like the others, where
        the residuals say how far values scatter. Without weights it takes the place of s. Raises SeriesUnusable.
        """
        if u_new is None and self.is_weighted:
            raise SeriesUnusable(
                expected="the uncertainty of the further value of a weighted fit", found="none"
            )
        if u_new is not None and not 0 < u_new < math.inf:
            raise SeriesUnusable(expected="an uncertainty above zero for the further value", found=u_new)
        if u_new is None:
            return self.scale
        return self.scale * u_new if self.is_weighted else u_new


def solve(
    design: NDArray[np.float64],
    values: Sequence[float],
    *,
    u: Sequence[float] | None = None,
    scatter: Scatter = Scatter.RESIDUAL,
) -> Solution:
    """Minimise Σ((y − A·b)/u)² by QR of the columns brought to length one (never by the normal equations).

    ``design`` is A, of shape (points, coefficients); ``values`` are y; ``u`` their standard uncertainties, all equal
    where left out. Raises SeriesUnusable, TooFewPoints, Undetermined.
    """
    import numpy as np

    y, spread = series(values, "values"), spreads(u, len(values), is_needed=scatter is Scatter.STATED)
    points, count = design.shape
    if len(y) != points:
        raise SeriesUnusable(expected=f"{points} values, one for each place", found=len(y))
    if points <= count:
        raise TooFewPoints(needed=count + 1, coefficients=count, found=points)
    with np.errstate(all="ignore"):
        b, cofactors = _orthogonal(design / spread[:, None], y / spread)
        residuals = y - design @ b
        s = _residual_spread(residuals / spread, y / spread, points - count)
    if not (np.isfinite(cofactors).all() and np.isfinite(b).all() and math.isfinite(s)):
        raise SeriesUnusable(expected="values whose squares can be worked with", found="an overflow")
    return Solution(
        tuple(b.tolist()),
        tuple(tuple(row) for row in cofactors.tolist()),
        tuple(residuals.tolist()),
        s,
        points - count,
        scatter,
        u is not None,
    )


def _residual_spread(residuals: NDArray[np.float64], values: NDArray[np.float64], nu: int) -> float:
    import numpy as np

    left, whole = float(np.sqrt(np.sum(residuals**2))), float(np.sqrt(np.sum(values**2)))
    return 0.0 if left <= LEAST_SCATTER * whole < math.inf else left / math.sqrt(nu)


def _orthogonal(
    design: NDArray[np.float64], values: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    import numpy as np

    lengths = np.sqrt(np.sum(design**2, axis=0))
    if not np.isfinite(lengths).all():
        raise SeriesUnusable(expected="values whose squares can be worked with", found="an overflow")
    q, r = np.linalg.qr(design / np.where(lengths > 0, lengths, 1.0))
    weak = np.flatnonzero(np.abs(np.diag(r)) < LEAST_INDEPENDENCE)
    if len(weak):
        raise Undetermined(which=int(weak[0]) + 1)
    inverse = np.linalg.solve(r, np.eye(len(r))) / lengths[:, None]
    return inverse @ (q.T @ values), inverse @ inverse.T
