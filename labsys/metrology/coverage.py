"""From a combined standard uncertainty to a coverage factor: which shape the result has, and the k that belongs to it.

Lives here: effective degrees of freedom, Student factor, the rectangular and trapezoidal factors and the rules
between them. May not live here: components and their sources.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

from labsys.errors import LabError

DEFAULT_PROBABILITY = 0.9545
"""Coverage probability where a procedure names no other (two standard deviations of a normal distribution)."""

REST_SHARE = 0.3
"""Largest ratio of the rest to the dominant part for which the dominant part's shape is taken (EA-4/02, S9 and S10)."""


class Shape(StrEnum):
    """The distribution that the result is taken to have."""

    NORMAL_OR_T = "normal/t"
    RECTANGULAR = "rectangular"
    TRAPEZOIDAL = "trapezoidal"


class FreedomRule(StrEnum):
    """What becomes of broken effective degrees of freedom: JCGM 100 G.4.1 truncates, others round or keep them."""

    TRUNCATE = "truncate"
    NEAREST = "nearest"
    KEEP = "keep"


class ProbabilityOutOfRange(LabError, ValueError):
    """A coverage probability that is none."""

    code = "probability-out-of-range"
    sentence = "Expected a coverage probability above 0 and below 1, found {found}. 0.9545 is usual."


class TooLittleFreedom(LabError, ValueError):
    """Degrees of freedom below one, or not a number."""

    code = "too-little-freedom"
    sentence = (
        "Expected at least one degree of freedom, found {found}. Take more repeats or use a pooled study."
    )


class NoSpread(LabError, ValueError):
    """A budget whose components are all zero."""

    code = "no-spread"
    sentence = "Expected at least one component above zero{where}, found only zeros. Give the components their sizes."


class TrapezoidOutOfReach(LabError, ValueError):
    """The closed formula of the trapezoid doesn't hold for this probability and edge parameter."""

    code = "trapezoid-out-of-reach"
    sentence = "Expected a probability above 2β/(1 + β) = {least:.3f} for the trapezoid, found {found}."


@dataclass(frozen=True, slots=True)
class Part:
    """One independent part of a result: contribution in mm, whether it's rectangular, degrees of freedom."""

    u_mm: float
    is_rectangular: bool
    nu: float

    @property
    def can_dominate(self) -> bool:
        """Say whether its shape may be taken for the whole: limits that are themselves in doubt (finite ν) may not."""
        return self.is_rectangular and math.isinf(self.nu)


@dataclass(frozen=True, slots=True)
class Coverage:
    """The factor k, the shape it belongs to, β of a trapezoid, and the degrees of freedom before and after the rule."""

    k: float
    shape: Shape
    beta: float | None
    nu_eff: float
    nu_used: float


def effective_freedom(parts: Sequence[Part]) -> float:
    """Give ν_eff = u⁴ / Σ(u_i⁴/ν_i) of independent ``parts``, infinite where all are (JCGM 100:2008, G.4.1, G.2b).

    Raises NoSpread where all are zero.
    """
    variance = math.fsum(part.u_mm**2 for part in parts)
    if variance == 0:
        raise NoSpread(where="")
    spread = math.fsum((part.u_mm**2 / variance) ** 2 / part.nu for part in parts if part.u_mm > 0)
    return math.inf if spread == 0 else 1 / spread


def apply_rule(nu_eff: float, rule: FreedomRule) -> float:
    """Truncate, round or keep ``nu_eff``, never below one."""
    if math.isinf(nu_eff) or rule is FreedomRule.KEEP:
        return nu_eff
    # A sum that should give exactly 40 may come out as 39.999999999999996.
    whole = math.floor(nu_eff + 1e-9) if rule is FreedomRule.TRUNCATE else math.floor(nu_eff + 0.5)
    return float(max(1, whole))


def freedom_of_doubt(share: float) -> float:
    """Give ν = ½·(Δu/u)⁻² of a standard uncertainty that is itself in doubt by ``share``, 0.25 for 25 %.

    JCGM 100:2008, G.4.2, formula G.3; zero gives infinity. Raises TooLittleFreedom where less than one is left.
    """
    if not 0 <= share <= math.sqrt(0.5):
        raise TooLittleFreedom(found=f"a doubt of {share:g}")
    return math.inf if share * share == 0 else 0.5 / (share * share)


def student_factor(probability: float, nu: float) -> float:
    """Give the two-sided Student factor t_p(ν), for infinite ν the normal one (JCGM 100:2008, table G.2)."""
    _refuse_unless_probability(probability)
    if math.isnan(nu) or nu < 1:
        raise TooLittleFreedom(found=nu)
    if math.isinf(nu):
        return NormalDist().inv_cdf((1 + probability) / 2)
    from scipy.special import stdtrit

    return float(stdtrit(nu, (1 + probability) / 2))


def rectangular_factor(probability: float) -> float:
    """Give k = p·√3 of a rectangular distribution (EA-4/02, S9)."""
    _refuse_unless_probability(probability)
    return probability * math.sqrt(3.0)


def trapezoidal_factor(probability: float, beta: float) -> float:
    """Give k of a symmetric trapezoid with edge parameter β = |a₁ − a₂|/(a₁ + a₂), valid for p > 2β/(1 + β).

    EA-4/02, S10: k = (1 − √((1 − p)(1 − β²))) / √((1 + β²)/6). Raises TrapezoidOutOfReach.
    """
    _refuse_unless_probability(probability)
    least = 2 * beta / (1 + beta)
    if not (0 <= beta <= 1 and probability > least):
        raise TrapezoidOutOfReach(least=least, found=probability)
    return (1 - math.sqrt((1 - probability) * (1 - beta**2))) / math.sqrt((1 + beta**2) / 6)


def cover(parts: Sequence[Part], *, probability: float, freedom_rule: FreedomRule) -> Coverage:
    """Choose shape and k: (i) one rectangle dominates, (ii) two rectangles dominate, (iii) otherwise normal or t.

    A part dominates where the root sum of squares of the rest is at most 0.3 of it. Under (i) and (ii) U is k
    times the whole combined uncertainty. Where β lies outside the trapezoid's formula, (iii) holds.
    """
    ordered = sorted(parts, key=lambda part: part.u_mm, reverse=True)
    nu_eff = effective_freedom(parts)
    nu_used = apply_rule(nu_eff, freedom_rule)
    if _dominates(ordered, 1):
        return Coverage(rectangular_factor(probability), Shape.RECTANGULAR, None, nu_eff, nu_used)
    if _dominates(ordered, 2):
        beta = (ordered[0].u_mm - ordered[1].u_mm) / (ordered[0].u_mm + ordered[1].u_mm)
        if probability > 2 * beta / (1 + beta):
            return Coverage(trapezoidal_factor(probability, beta), Shape.TRAPEZOIDAL, beta, nu_eff, nu_used)
    return Coverage(student_factor(probability, nu_used), Shape.NORMAL_OR_T, None, nu_eff, nu_used)


def _dominates(ordered: Sequence[Part], count: int) -> bool:
    """Say whether the ``count`` largest parts are rectangles that leave a rest of at most 0.3 of their root sum
    of squares.
    """
    largest, rest = ordered[:count], ordered[count:]
    if len(largest) < count or not all(part.can_dominate and part.u_mm > 0 for part in largest):
        return False
    return _root_sum(rest) <= REST_SHARE * _root_sum(largest)


def _root_sum(parts: Sequence[Part]) -> float:
    return math.sqrt(math.fsum(part.u_mm**2 for part in parts))


def _refuse_unless_probability(probability: float) -> None:
    if not 0 < probability < 1:
        raise ProbabilityOutOfRange(found=probability)
