"""Confidence intervals for variance components, by closed formulas.

Lives here: one mean square, a sum of mean squares, a difference of two. May not live here: which mean squares a
design has.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.metrology.studies.anova import Line
from labsys.metrology.studies.variation import expect


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval for a standard deviation (readings' unit) that holds it with ``confidence``, and its source."""

    low: float
    high: float
    confidence: float
    source: str


@dataclass(frozen=True, slots=True)
class Term:
    """A coefficient (above zero) and the line whose mean square it multiplies."""

    coefficient: float
    line: Line

    @property
    def value(self) -> float:
        """Give the product."""
        return self.coefficient * self.line.ms


EXACT_SOURCE = "χ² of one mean square, exact"
SUM_SOURCE = "Graybill and Wang, J. Am. Stat. Assoc. 75 (1980) 869 (modified large sample; from memory)"
DIFFERENCE_SOURCE = (
    "Ting, Burdick, Graybill, Jeyaratnam and Lu, J. Stat. Comput. Simul. 35 (1990) 135 (modified large sample; from "
    "memory)"
)


def check_confidence(confidence: float) -> None:
    """Refuse a level that is none; raises BadStudySetting."""
    expect(0 < confidence < 1, "Confidence", "a probability above 0 and below 1", confidence)


def interval_of_sum(terms: Sequence[Term], confidence: float) -> Interval:
    """Bracket √(Σ c·σ²) from its estimate Σ c·MS, all c above zero; exact for one term.

    Low: γ − √ΣG²c²MS², high: γ + √ΣH²c²MS², G = 1 − ν/χ²(upper), H = ν/χ²(lower) − 1. Raises BadStudySetting.
    """
    check_confidence(confidence)
    tail = (1 - confidence) / 2
    middle = math.fsum(term.value for term in terms)
    low = middle - math.sqrt(math.fsum((_G(term, tail) * term.value) ** 2 for term in terms))
    high = middle + math.sqrt(math.fsum((_H(term, tail) * term.value) ** 2 for term in terms))
    return _rooted(low, high, confidence, EXACT_SOURCE if len(terms) == 1 else SUM_SOURCE)


def interval_of_difference(more: Term, less: Term, confidence: float) -> Interval:
    """Bracket √(c₁σ₁² − c₂σ₂²) from its estimate c₁MS₁ − c₂MS₂; ends below zero are zero. Raises BadStudySetting."""
    from scipy.special import fdtri

    check_confidence(confidence)
    tail = (1 - confidence) / 2
    freedom = (more.line.df, less.line.df)
    F_high, F_low = float(fdtri(*freedom, 1 - tail)), float(fdtri(*freedom, tail))
    G1, H1, G2, H2 = _G(more, tail), _H(more, tail), _G(less, tail), _H(less, tail)
    G12 = ((F_high - 1) ** 2 - (G1 * F_high) ** 2 - H2**2) / F_high
    H12 = ((1 - F_low) ** 2 - (H1 * F_low) ** 2 - G2**2) / F_low
    crossed = more.value * less.value
    below = (G1 * more.value) ** 2 + (H2 * less.value) ** 2 + G12 * crossed
    above = (H1 * more.value) ** 2 + (G2 * less.value) ** 2 + H12 * crossed
    middle = more.value - less.value
    low, high = middle - math.sqrt(max(0.0, below)), middle + math.sqrt(max(0.0, above))
    return _rooted(low, high, confidence, DIFFERENCE_SOURCE)


def _G(term: Term, tail: float) -> float:
    from scipy.special import chdtri

    return 1 - term.line.df / float(chdtri(term.line.df, tail))


def _H(term: Term, tail: float) -> float:
    from scipy.special import chdtri

    return term.line.df / float(chdtri(term.line.df, 1 - tail)) - 1


def _rooted(low: float, high: float, confidence: float, source: str) -> Interval:
    return Interval(math.sqrt(max(0.0, low)), math.sqrt(max(0.0, high)), confidence, source)
