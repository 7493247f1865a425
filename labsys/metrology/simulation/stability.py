"""Whether batches of trials agree well enough: the numerical tolerance and the spread of the batches' averages.

Lives here: the arithmetic of JCGM 101:2008, 7.9.2 and 7.9.4 g to k. May not live here: running trials.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labsys.errors import LabError
from labsys.metrology.simulation.intervals import CoverageInterval


class BadDigits(LabError, ValueError):
    """A number of significant digits that makes no sense, or an uncertainty that has none."""

    code = "bad-digits"
    sentence = "Expected 1 to 9 significant digits of an uncertainty above zero, found {digits} of {found}."


@dataclass(frozen=True, slots=True)
class Summary:
    """What one batch of trials says."""

    y: float
    u: float
    interval: CoverageInterval


@dataclass(frozen=True, slots=True)
class Stability:
    """How far an adaptive run came: twice the standard deviation of each average beside the tolerance it is held to."""

    digits: int
    tolerance: float
    batches: int
    twice_s_y: float
    twice_s_u: float
    twice_s_low: float
    twice_s_high: float

    @property
    def unsettled(self) -> tuple[str, ...]:
        """Name those of y, u, low and high that aren't within the tolerance."""
        spreads = {
            "y": self.twice_s_y,
            "u": self.twice_s_u,
            "low": self.twice_s_low,
            "high": self.twice_s_high,
        }
        return tuple(name for name, spread in spreads.items() if spread > self.tolerance)

    @property
    def is_stable(self) -> bool:
        """Say whether all four are."""
        return not self.unsettled


def numerical_tolerance(u: float, digits: int) -> float:
    """Give δ = ½·10^ℓ where u, rounded to ``digits`` significant digits, is c·10^ℓ with whole c (7.9.2.1).

    0.35 with two digits is 35·10⁻², so δ = 0.005. Raises BadDigits.
    """
    if not (1 <= digits <= 9 and 0 < u < math.inf):
        raise BadDigits(digits=digits, found=u)
    exponent = int(f"{u:.{digits - 1}e}".partition("e")[2])
    return 0.5 * 10.0 ** (exponent - digits + 1)


def stability_of(said: Sequence[Summary], batch: int, digits: int, share: float) -> Stability:
    """Hold the averages of at least two batches of ``batch`` trials against ``share`` of δ of their common u."""
    return Stability(
        digits,
        share * numerical_tolerance(pooled_u(said, batch), digits),
        len(said),
        _twice_s(one.y for one in said),
        _twice_s(one.u for one in said),
        _twice_s(one.interval.low for one in said),
        _twice_s(one.interval.high for one in said),
    )


def pooled_u(said: Sequence[Summary], batch: int) -> float:
    """Give the standard deviation of all trials from each batch's mean and standard deviation, exactly."""
    y = math.fsum(one.y for one in said) / len(said)
    within = (batch - 1) * math.fsum(one.u**2 for one in said)
    between = batch * math.fsum((one.y - y) ** 2 for one in said)
    return math.sqrt((within + between) / (batch * len(said) - 1))


def _twice_s(found: Iterable[float]) -> float:
    """Give twice s = √(Σ(x − x̄)²/(h(h − 1))), the standard deviation of the average of h batches (7.9.4 g)."""
    values = list(found)
    count = len(values)
    average = math.fsum(values) / count
    return 2 * math.sqrt(math.fsum((one - average) ** 2 for one in values) / (count * (count - 1)))
