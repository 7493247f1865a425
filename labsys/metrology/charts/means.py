"""The t test: does a new mean agree with the baseline's?

Lives here: the comparison of two means. May not live here: spreads (spread.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from labsys.errors import LabError
from labsys.metrology.charts.spread import Spread, pool
from labsys.metrology.fits.series import SeriesUnusable


class MeansWithoutSpread(LabError, ValueError):
    """Two groups that don't vary, so that nothing tells how far apart their means may be."""

    code = "means-without-spread"
    sentence = "Expected groups that vary, found no spread in either. Read with finer resolution."


@dataclass(frozen=True, slots=True)
class Group:
    """Values summed up: mean, standard deviation and their number."""

    mean: float
    s: float
    count: int

    @property
    def spread(self) -> Spread:
        """Give s with its n − 1 degrees of freedom."""
        return Spread(self.s, float(self.count - 1))


@dataclass(frozen=True, slots=True)
class MeanTest:
    """t = difference/u with ν degrees of freedom and the two-sided p."""

    difference: float
    u: float
    t: float
    nu: float
    p_value: float


def compare_means(first: Group, second: Group, *, has_equal_spread: bool = True) -> MeanTest:
    """Test whether the means of two groups agree (NIST/SEMATECH e-Handbook, 1.3.5.3, 7.3.1).

    With equal spreads pooled, ν = n₁ + n₂ − 2 (a group of one value borrows the other's spread); otherwise each its
    own, ν by Welch and Satterthwaite. Raises MeansWithoutSpread, SeriesUnusable, SpreadUnusable.
    """
    from scipy.special import stdtr

    if min(first.count, second.count) < 1 or not math.isfinite(first.mean + second.mean):
        raise SeriesUnusable(expected="two finite means of at least one value", found=f"{first} and {second}")
    u, nu = _pooled(first, second) if has_equal_spread else _separate(first, second)
    if u == 0:
        raise MeansWithoutSpread()
    difference = first.mean - second.mean
    return MeanTest(difference, u, difference / u, nu, 2 * float(stdtr(nu, -abs(difference / u))))


def _pooled(first: Group, second: Group) -> tuple[float, float]:
    common = pool([one.spread for one in (first, second) if one.count > 1])
    return common.s * math.sqrt(1 / first.count + 1 / second.count), common.nu


def _separate(first: Group, second: Group) -> tuple[float, float]:
    for one in (first, second):
        pool([one.spread])  # refuses what has no spread of its own
    parts = [one.s**2 / one.count for one in (first, second)]
    whole = math.fsum(parts)
    if whole == 0:
        return 0.0, math.inf
    rest = (first.count - 1, second.count - 1)
    doubt = math.fsum((part / whole) ** 2 / nu for part, nu in zip(parts, rest, strict=True))
    return math.sqrt(whole), 1 / doubt
