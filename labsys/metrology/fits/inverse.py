"""Reading a calibration curve backwards: the place that belongs to an observed value, with its uncertainty.

Lives here: inverse use with the curve's own uncertainty and covariance. May not live here: fitting.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from labsys.errors import LabError
from labsys.metrology.coverage import Part, effective_freedom, student_factor
from labsys.metrology.fits.curve import Curve
from labsys.metrology.fits.series import SeriesUnusable

REAL_PART: Final = 1e-7
"""A root counts as real where its imaginary part is at most this share of the range."""


class NotReadable(LabError, ValueError):
    """A value that the curve takes nowhere, or more than once, within its points."""

    code = "curve-not-readable"
    sentence = (
        "Expected a value that the curve takes once between {lowest:g} and {highest:g}, found {found:g}, which it "
        "takes {count} times. Measure within the calibrated range or use a lower degree."
    )


class SlopeUnproven(LabError, ValueError):
    """A line whose slope can't be told from zero at the wanted probability."""

    code = "slope-unproven"
    sentence = (
        "Expected a slope that differs from zero at {probability:g}, found {slope:g} with standard uncertainty {u:g}. "
        "Calibrate with more points or over a longer range."
    )


@dataclass(frozen=True, slots=True)
class ReadBack:
    """A place x read from the curve, with ``u`` = √(u_reading² + u_curve²) in the unit of x.

    ``u_reading`` and ``u_curve`` are what the observed value and the curve contribute, ``nu`` the degrees of freedom,
    ``U`` = k·u. ``exact`` are the limits that don't linearise (Fieller's theorem), given for a straight line.
    """

    x: float
    u_reading: float
    u_curve: float
    nu: float
    k: float
    exact: tuple[float, float] | None
    is_extrapolated: bool

    @property
    def u(self) -> float:
        """Give the combined standard uncertainty."""
        return math.hypot(self.u_reading, self.u_curve)

    @property
    def U(self) -> float:
        """Give the expanded uncertainty."""
        return self.k * self.u


def read_back(
    curve: Curve,
    value: float,
    *,
    probability: float,
    count: int = 1,
    u_value: float | None = None,
    u_new: float | None = None,
) -> ReadBack:
    """Give the x at which ``curve`` takes ``value``: u²(x) = (u²(value) + u²(curve at x))/slope².

    For a line that is (u²(y) + u²(b₀) + x²·u²(b₁) + 2·x·u(b₀, b₁))/b₁² (JCGM 100:2008, 5.2.2; H.3.4). ``u_value`` is
    the standard uncertainty of ``value``, by default that of a mean of ``count`` readings with the spread of a further
    value (``u_new`` as in predictions). Raises NotReadable, SlopeUnproven, SeriesUnusable, ProbabilityOutOfRange.
    """
    if count < 1 or not math.isfinite(value):
        raise SeriesUnusable(expected="the finite mean of at least one reading", found=f"{value} of {count}")
    if u_value is not None and not 0 <= u_value < math.inf:
        raise SeriesUnusable(expected="a standard uncertainty of zero or more", found=u_value)
    x = _place(curve, value)
    steepness = abs(curve.slope(x))
    own = curve.solution.s_of_new(u_new) / math.sqrt(count) if u_value is None else u_value
    u_reading, u_curve = own / steepness, curve.u_value(x) / steepness
    nu = _freedom(
        curve, u_reading, u_curve, is_own=u_value is None and (u_new is None or curve.solution.is_weighted)
    )
    exact = (
        _fieller(curve, value, own, student_factor(probability, nu), probability)
        if curve.degree == 1
        else None
    )
    return ReadBack(
        x, u_reading, u_curve, nu, student_factor(probability, nu), exact, curve.is_extrapolated(x)
    )


def _place(curve: Curve, value: float) -> float:
    import numpy as np

    b = list(curve.solution.coefficients)
    roots = np.roots([*b[:0:-1], b[0] - value])
    real = [float(root.real) for root in roots if abs(root.imag) <= REAL_PART]
    inside = [root for root in real if abs(root) <= 1 + 1e-12]
    if curve.degree == 1 and len(real) == 1:
        inside = real
    if len(inside) != 1:
        raise NotReadable(lowest=curve.lowest, highest=curve.highest, found=value, count=len(inside))
    return curve.centre + curve.half * inside[0]


def _freedom(curve: Curve, u_reading: float, u_curve: float, *, is_own: bool) -> float:
    """Give ν: the fit's where the residuals give both parts, otherwise effective after Welch and Satterthwaite."""
    nu = curve.solution.freedom
    if is_own or u_curve == 0 or math.isinf(nu):
        return nu
    return effective_freedom([Part(u_reading, False, math.inf), Part(u_curve, False, nu)])


def _fieller(curve: Curve, value: float, own: float, k: float, probability: float) -> tuple[float, float]:
    """Solve (value − b₀ − b₁·z)² = k²·(own² + u²(curve at z)) for z; a quadratic, closed where A > 0."""
    (b0, b1), v = curve.solution.coefficients, curve.solution.covariance
    a = b1**2 - k**2 * v[1][1]
    if a <= 0:
        raise SlopeUnproven(probability=probability, slope=b1 / curve.half, u=math.sqrt(v[1][1]) / curve.half)
    half_b = -b1 * (value - b0) - k**2 * v[0][1]
    c = (value - b0) ** 2 - k**2 * (own**2 + v[0][0])
    root = math.sqrt(max(0.0, half_b**2 - a * c))
    low, high = (-half_b - root) / a, (-half_b + root) / a
    return curve.centre + curve.half * low, curve.centre + curve.half * high
