"""The divisors that turn mean ranges into standard deviations.

Lives here: K1, K2, K3 as printed, and d2* worked out from the distribution of the range. May not live here: the
study that uses them (ranges.py).
"""

from __future__ import annotations

import math
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING, Final

from labsys.errors import LabError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MANY_RANGES: Final = 15
"""Beyond this many ranges the printed K1 uses d2 in place of d2* (AIAG MSA, 4th edition)."""

LARGEST_RANGE: Final = 25
"""Readings in one range at the most: beyond, a range wastes what was read."""

# 0.5908, 0.5231 and 0.3146 read in transcriptions of AIAG MSA, 4th edition; the others from memory. All are 1/d2*
# to four decimals, which a test works out.
_PRINTED_TRIALS: Final = {2: 0.8862, 3: 0.5908}
_PRINTED_SINGLE: Final = {
    2: 0.7071,
    3: 0.5231,
    4: 0.4467,
    5: 0.4030,
    6: 0.3742,
    7: 0.3534,
    8: 0.3375,
    9: 0.3249,
    10: 0.3146,
}


class Constants(StrEnum):
    """Which constants a study by ranges uses: four decimals as the manual prints them, or unrounded."""

    PRINTED = "printed"
    COMPUTED = "computed"


class NoConstant(LabError, ValueError):
    """A range of so many readings has no constant."""

    code = "no-constant"
    sentence = (
        "Expected {expected} {what} for the {kind} constants, found {found}. Choose computed constants, or the "
        "analysis of variance."
    )


def trial_constant(trials: int, ranges: int, constants: Constants) -> float:
    """Give K1 = 1/d2 for the mean of ``ranges`` ranges of ``trials`` each; computed: 1/d2*. Raises NoConstant.

    The printed ones hold for more than 15 ranges (of 2 or 3 trials).
    """
    if constants is Constants.COMPUTED:
        return 1 / d2_star(trials, ranges)
    if ranges <= MANY_RANGES:
        raise NoConstant(expected=f"more than {MANY_RANGES}", what="ranges", kind="printed", found=ranges)
    return _printed(_PRINTED_TRIALS, trials, "2 or 3", "trials")


def single_constant(count: int, what: str, constants: Constants) -> float:
    """Give K2 (appraisers) or K3 (parts) = 1/d2* for the one range of ``count`` means; raises NoConstant."""
    if constants is Constants.COMPUTED:
        return 1 / d2_star(count, 1)
    return _printed(_PRINTED_SINGLE, count, "2 to 10", what)


def d2_star(size: int, ranges: int) -> float:
    """Give d2* = √(E(R)² + V(R)/g), for which R̄/d2* squared is on average σ² (g ``ranges`` of ``size`` readings).

    Definition: Duncan, Quality Control and Industrial Statistics (from memory); the moments of the range of normal
    readings by quadrature, good to nine digits. Raises NoConstant for sizes outside 2 to 25 or no range.
    """
    if not 2 <= size <= LARGEST_RANGE:
        raise NoConstant(
            expected=f"2 to {LARGEST_RANGE}", what="readings in a range", kind="computed", found=size
        )
    if ranges < 1:
        raise NoConstant(expected="one or more", what="ranges", kind="computed", found=ranges)
    mean, square = _moments(size)
    return math.sqrt(mean**2 + (square - mean**2) / ranges)


@cache
def _moments(size: int) -> tuple[float, float]:
    """Integrate E(R) = ∫(1 − F(r))dr and E(R²) = ∫2r(1 − F(r))dr for the range of ``size`` standard normal readings."""
    import numpy as np

    nodes, weights = np.polynomial.legendre.leggauss(120)
    spans, scaled = 8.0 * (nodes + 1), 8.0 * weights
    beyond = 1 - _range_distribution(spans, size)
    return float(scaled @ beyond), float(scaled @ (2 * spans * beyond))


def _range_distribution(spans: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    """Give F(r) = n·∫φ(x)·(Φ(x + r) − Φ(x))ⁿ⁻¹dx by the trapezoidal rule, which is very good where both ends vanish."""
    import numpy as np
    from scipy.special import ndtr

    step = 0.05
    lowest = np.arange(-9.0, 9.0, step)
    density = np.exp(-(lowest**2) / 2) / math.sqrt(2 * math.pi)
    covered = ndtr(lowest[None, :] + spans[:, None]) - ndtr(lowest)[None, :]
    found: NDArray[np.float64] = size * step * (density * covered ** (size - 1)).sum(axis=1)
    return found


def _printed(table: dict[int, float], count: int, expected: str, what: str) -> float:
    if count not in table:
        raise NoConstant(expected=expected, what=what, kind="printed", found=count)
    return table[count]
