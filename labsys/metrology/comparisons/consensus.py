"""A reference value from the results of a comparison: weighted mean, chi-squared check, largest consistent subset.

Lives here: the reference value and every result's difference from it. May not live here: scores (scores.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from labsys.errors import LabError
from labsys.metrology.fits.series import SeriesUnusable, series, spreads

SIGNIFICANCE: Final = 0.05
"""Results are inconsistent where chance gives a larger χ² with less than this probability (Cox 2002, procedure A)."""
MOST_SUBSETS: Final = 200_000


class SubsetsTooMany(LabError, ValueError):
    """A largest consistent subset that would take too long to find by trying."""

    code = "subsets-too-many"
    sentence = (
        "Expected at most {most} subsets to try, found {found} on leaving out {removed} of {count} results. Results "
        "this inconsistent have no common value; use the median and look for the cause."
    )


@dataclass(frozen=True, slots=True)
class Difference:
    """A result's difference from the reference value with its standard uncertainty, and whether it was part of it.

    u² = u_i² − u_ref² for a result that's part of the reference value, otherwise u_i² + u_ref². ``U`` = 2·u.
    """

    value: float
    u: float
    is_included: bool

    @property
    def U(self) -> float:
        """Give the expanded uncertainty, k = 2."""
        return 2 * self.u


@dataclass(frozen=True, slots=True)
class Consensus:
    """The weighted mean with its standard uncertainty, and χ² with ν = N − 1 and its probability.

    ``differences`` stand in the order of the results, ``included`` are the places of those it was made from.
    """

    value: float
    u: float
    chi_squared: float
    nu: int
    p_value: float
    is_consistent: bool
    included: tuple[int, ...]
    differences: tuple[Difference, ...]


def weighted_mean(
    values: Sequence[float],
    u: Sequence[float],
    *,
    significance: float = SIGNIFICANCE,
    included: Sequence[int] | None = None,
) -> Consensus:
    """Average independent results with weights 1/u² and check that they agree within their uncertainties.

    M. G. Cox, Metrologia 39 (2002) 589, procedure A: x_ref = Σ(x/u²)/Σ(1/u²), u_ref² = 1/Σ(1/u²), χ² = Σ((x −
    x_ref)/u)². ``included`` names the places of the results to average; all by default. Raises SeriesUnusable.
    """
    from scipy.special import chdtrc

    x, spread = _checked(values, u, significance)
    places = tuple(range(len(x))) if included is None else tuple(sorted(set(included)))
    if len(places) < 2 or not set(places) <= set(range(len(x))):
        raise SeriesUnusable(expected="at least two results to average, by their places", found=list(places))
    weights = {i: (min(spread) / spread[i]) ** 2 for i in places}
    whole = math.fsum(weights.values())
    mean = x[places[0]] + math.fsum(weights[i] * (x[i] - x[places[0]]) for i in places) / whole
    u_mean = min(spread) / math.sqrt(whole)
    chi_squared = math.fsum(((x[i] - mean) / spread[i]) ** 2 for i in places)
    p_value = float(chdtrc(len(places) - 1, chi_squared))
    differences = tuple(
        _difference(value, one, mean, u_mean, is_included=i in weights)
        for i, (value, one) in enumerate(zip(x, spread, strict=True))
    )
    is_consistent = p_value >= significance
    return Consensus(mean, u_mean, chi_squared, len(places) - 1, p_value, is_consistent, places, differences)


def largest_consistent_subset(
    values: Sequence[float], u: Sequence[float], *, significance: float = SIGNIFICANCE
) -> Consensus:
    """Average the largest subset of results that is consistent; of equally large ones that with the smallest χ².

    M. G. Cox, Metrologia 44 (2007) 187, by trying all subsets from the largest down. Down to two results; where no two
    agree, the closest two are given with ``is_consistent`` false. Raises SeriesUnusable, SubsetsTooMany.
    """
    x, spread = _checked(values, u, significance)
    best = weighted_mean(x, spread, significance=significance)
    for removed in range(1, len(x) - 1):
        if best.is_consistent:
            return best
        tries = math.comb(len(x), removed)
        if tries > MOST_SUBSETS:
            raise SubsetsTooMany(most=MOST_SUBSETS, found=tries, removed=removed, count=len(x))
        best = weighted_mean(
            x, spread, significance=significance, included=_closest(x, spread, len(x) - removed)
        )
    return best


def _closest(x: Sequence[float], spread: Sequence[float], size: int) -> tuple[int, ...]:
    """Find the subset of ``size`` results with the smallest χ² = Σw·d² − (Σw·d)²/Σw, d from a value amid them."""
    import numpy as np

    middle = float(np.median(x))
    weights = 1 / (np.asarray(spread) / min(spread)) ** 2
    away = np.asarray(x) - middle
    kept = np.array(list(combinations(range(len(x)), size)))
    # What is kept is summed, not what is left over: a far outlier would take all digits with it.
    whole, first, second = (row[kept].sum(axis=1) for row in (weights, weights * away, weights * away**2))
    return tuple(kept[int(np.argmin(second - first**2 / whole))].tolist())


def _difference(x: float, u: float, mean: float, u_mean: float, *, is_included: bool) -> Difference:
    variance = (u - u_mean) * (u + u_mean) if is_included else u**2 + u_mean**2
    return Difference(x - mean, math.sqrt(max(0.0, variance)), is_included)


def _checked(
    values: Sequence[float], u: Sequence[float], significance: float
) -> tuple[list[float], list[float]]:
    if not 0 < significance < 1:
        raise SeriesUnusable(expected="a significance above 0 and below 1", found=significance)
    x: list[float] = series(values, "results").tolist()
    if len(x) < 2:
        raise SeriesUnusable(expected="at least two results", found=len(x))
    return x, spreads(u, len(x), is_needed=True).tolist()
