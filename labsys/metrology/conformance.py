"""How probable it is that the true error lies within the limits, given what was measured.

Lives here: conformance probability and the guard that holds a false-accept risk. May not live here: verdicts
(decision.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Self

from labsys.metrology.budget import Budget
from labsys.metrology.coverage import NoSpread, Shape
from labsys.metrology.limits import LimitMissing, Limits, within_limits


@dataclass(frozen=True, slots=True)
class Spread:
    """What is known about the true value around the measured one: standard uncertainty (mm), shape, freedom,
    edge parameter.
    """

    u_mm: float
    shape: Shape = Shape.NORMAL_OR_T
    nu: float = math.inf
    beta: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no spread. Zero is one: the value is exact."""
        if not (math.isfinite(self.u_mm) and self.u_mm >= 0):
            raise NoSpread(where=" for the conformance probability")

    @classmethod
    def of(cls, budget: Budget) -> Self:
        """Take shape and size from a ``budget``."""
        return cls(budget.u_mm, budget.shape, budget.nu_used, budget.beta or 0.0)

    def below(self, distance_mm: float) -> float:
        """Give the probability that the true value lies below the measured one plus ``distance_mm``."""
        if self.u_mm == 0:
            return 1.0 if distance_mm >= 0 else 0.0
        z = distance_mm / self.u_mm
        if self.shape is Shape.RECTANGULAR:
            return min(1.0, max(0.0, 0.5 + z / (2 * math.sqrt(3.0))))
        if self.shape is Shape.TRAPEZOIDAL:
            return _below_in_trapezoid(z, self.beta)
        if math.isinf(self.nu):
            # Not 1 + erf: that loses every digit of a probability far out.
            return math.erfc(-z / math.sqrt(2.0)) / 2
        from scipy.special import stdtr

        return float(stdtr(self.nu, z))


def conformance_probability(error_mm: Decimal, limits: Limits, spread: Spread) -> float:
    """Give Φ((T_U − e)/u) − Φ((T_L − e)/u), with the spread's own distribution for Φ (JCGM 106:2012, 7.2 to 7.4).

    For an exact value it is 1 within the limits and on them, 0 beyond.
    """
    if limits.lower is None and limits.upper is None:
        raise LimitMissing()
    if spread.u_mm == 0:
        return 1.0 if within_limits(error_mm, limits) else 0.0
    above = 1.0 if limits.upper is None else spread.below(float(limits.upper - error_mm))
    under = 0.0 if limits.lower is None else spread.below(float(limits.lower - error_mm))
    return max(0.0, above - under)


def nonconformance_probability(value_mm: Decimal, limits: Limits, spread: Spread) -> float:
    """Give the probability that the true value lies beyond a limit, exact also where it is tiny (JCGM 106:2012, 9.3).

    This is the specific consumer's risk where the result is accepted; its complement, the conformance probability,
    is the specific producer's risk where it isn't. Raises LimitMissing.
    """
    if limits.lower is None and limits.upper is None:
        raise LimitMissing()
    if spread.u_mm == 0:
        return 0.0 if within_limits(value_mm, limits) else 1.0
    # Every shape is symmetric, so the far side is looked up from the near one and keeps its digits.
    over = 0.0 if limits.upper is None else spread.below(float(value_mm - limits.upper))
    under = 0.0 if limits.lower is None else spread.below(float(limits.lower - value_mm))
    return min(1.0, over + under)


def guard_for_risk(limits: Limits, spread: Spread, *, max_false_accept: float) -> float | None:
    """Find the guard w ≥ 0 (mm) at whose acceptance limit the false-accept risk just equals ``max_false_accept``.

    The risk of the far limit counts too (JCGM 106:2012, 8.3.2 for the specific risk of one item). None where no
    guard that leaves a zone holds the risk. Bisected to a hundredth of a picometre.
    """
    low, high = 0.0, _widest_guard(limits, spread)
    if _risk(limits, spread, low) <= max_false_accept:
        return low
    if _risk(limits, spread, high) > max_false_accept:
        return None
    middle = (low + high) / 2
    # The second condition ends it where floats lie further apart than the first asks for.
    while high - low > 1e-11 and low < middle < high:
        low, high = (middle, high) if _risk(limits, spread, middle) > max_false_accept else (low, middle)
        middle = (low + high) / 2
    return high


def _widest_guard(limits: Limits, spread: Spread) -> float:
    """Give half the zone, or on one side as far as any probability that a float can hold."""
    if limits.lower is None or limits.upper is None:
        return 1000.0 * spread.u_mm
    return float(limits.upper - limits.lower) / 2


def _risk(limits: Limits, spread: Spread, guard_mm: float) -> float:
    far = 0.0
    if limits.lower is not None and limits.upper is not None:
        far = spread.below(guard_mm - float(limits.upper - limits.lower))
    return spread.below(-guard_mm) + far


def _below_in_trapezoid(z: float, beta: float) -> float:
    """Give the distribution function of a symmetric trapezoid of unit variance: half base a, half top β·a, a =
    √(6/(1 + β²)).
    """
    base = math.sqrt(6.0 / (1.0 + beta**2))
    distance = min(abs(z), base)
    height = 1.0 / (base * (1.0 + beta))
    if distance <= beta * base:
        half = height * distance
    else:
        half = 0.5 - height * (base - distance) ** 2 / (2.0 * base * (1.0 - beta))
    return 0.5 + math.copysign(half, z)
