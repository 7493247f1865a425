"""Coverage intervals from the values of many trials, by the index rules of JCGM 101:2008, 7.7.

Lives here: symmetric and shortest intervals. May not live here: how the values came about.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from labsys.errors import LabError
from labsys.metrology.coverage import DEFAULT_PROBABILITY, ProbabilityOutOfRange

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class IntervalKind(StrEnum):
    """Which of the many intervals that cover p: as much left out on either side, or the shortest."""

    SYMMETRIC = "symmetric"
    SHORTEST = "shortest"


class TooFewValues(LabError, ValueError):
    """Fewer values than an interval of this probability can be read from."""

    code = "too-few-values"
    sentence = (
        "Expected more values for an interval that covers {probability:g}, found {found}. Use more trials or a "
        "lower probability."
    )


@dataclass(frozen=True, slots=True)
class Wanted:
    """The interval that is asked for: coverage probability and kind. Raises ProbabilityOutOfRange."""

    probability: float = DEFAULT_PROBABILITY
    kind: IntervalKind = IntervalKind.SYMMETRIC

    def __post_init__(self) -> None:
        """Refuse what is no probability."""
        if not 0 < self.probability < 1:
            raise ProbabilityOutOfRange(found=self.probability)


@dataclass(frozen=True, slots=True)
class CoverageInterval:
    """An interval in the unit of the values, with what it was asked to be."""

    low: float
    high: float
    wanted: Wanted

    @property
    def half_width(self) -> float:
        """Give half its length, which stands beside an expanded uncertainty U."""
        return (self.high - self.low) / 2


def interval_of(values: NDArray[np.float64], wanted: Wanted) -> CoverageInterval:
    """Read the interval from ``values``, finite and of any order; the array is reordered in place.

    q = pM where that is whole, otherwise the integer part of pM + ½ (7.7.2). Symmetric: from the r-th to the
    (r + q)-th smallest, r = (M − q)/2 or the integer part of (M − q + 1)/2. Shortest: that r in 1 … M − q for which
    the length is least, the lowest of several. Raises TooFewValues where M − q or q is none.
    """
    count = values.size
    q = covered(count, wanted.probability)
    if not 1 <= q < count:
        raise TooFewValues(probability=wanted.probability, found=count)
    ends = _symmetric if wanted.kind is IntervalKind.SYMMETRIC else _shortest
    low, high = ends(values, q)
    return CoverageInterval(float(low), float(high), wanted)


def covered(count: int, probability: float) -> int:
    """Give q, how many of ``count`` values lie within the interval."""
    product = probability * count
    # 0.95·1e6 is 950000 and a bit in binary: what is meant is whole.
    nearest = round(product)
    is_whole = math.isclose(product, nearest, rel_tol=1e-12)
    return nearest if is_whole else math.floor(product + 0.5)


def _symmetric(values: NDArray[np.float64], q: int) -> tuple[float, float]:
    # One formula for both: with M − q even the half that is added is cut off again.
    r = (values.size - q + 1) // 2
    values.partition([r - 1, r + q - 1])
    return values[r - 1], values[r + q - 1]


def _shortest(values: NDArray[np.float64], q: int) -> tuple[float, float]:
    """Sort no more than both tails: only the M − q smallest and the M − q largest can be ends."""
    rest = values.size - q
    if rest < q:
        values.partition([rest - 1, q])
        values[:rest].sort()
        values[q:].sort()
    else:
        values.sort()
    best = int((values[q:] - values[:rest]).argmin())
    return values[best], values[best + q]
