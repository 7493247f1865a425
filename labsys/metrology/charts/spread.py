"""Spreads: pooling them, the limit of the next one, and the F test of two.

Lives here: standard deviations as results of their own. May not live here: means (means.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.errors import LabError
from labsys.metrology.coverage import ProbabilityOutOfRange
from labsys.metrology.fits.series import SeriesUnusable


class SpreadUnusable(LabError, ValueError):
    """A standard deviation, or its degrees of freedom, that can't be tested or pooled."""

    code = "spread-unusable"
    sentence = (
        "Expected standard deviations {expected} with one degree of freedom or more, found s = {s} with ν = {nu}. "
        "Correct or leave out that group."
    )


@dataclass(frozen=True, slots=True)
class Spread:
    """A standard deviation with its degrees of freedom."""

    s: float
    nu: float


@dataclass(frozen=True, slots=True)
class SpreadTest:
    """F = s₁²/s₂² and the two-sided p, the probability of a ratio at least as far from 1 where both are equal."""

    F: float
    p_value: float


def pool(groups: Sequence[Spread]) -> Spread:
    """Pool spreads: s² = Σν·s²/Σν with ν = Σν (NIST/SEMATECH e-Handbook, 2.2.3; JCGM 100:2008, H.3.6 note).

    Groups that don't vary count too. Raises SeriesUnusable for none, SpreadUnusable.
    """
    if not groups:
        raise SeriesUnusable(expected="at least one group", found="none")
    for one in groups:
        _refuse_unusable(one, is_zero_allowed=True)
    nu = math.fsum(one.nu for one in groups)
    return Spread(math.sqrt(math.fsum(one.nu / nu * one.s**2 for one in groups)), nu)


def spread_limit(pooled: Spread, *, nu_new: float, probability: float) -> float:
    """Give the most that a new s with ``nu_new`` degrees of freedom may be: s·√F_p(ν_new, ν) (e-Handbook, 2.2.3.1).

    ``probability`` is one-sided. Raises SpreadUnusable, ProbabilityOutOfRange.
    """
    from scipy.special import fdtri

    _refuse_unusable(pooled, is_zero_allowed=False)
    _refuse_unusable(Spread(pooled.s, nu_new), is_zero_allowed=False)
    if not 0 < probability < 1:
        raise ProbabilityOutOfRange(found=probability)
    return pooled.s * math.sqrt(float(fdtri(nu_new, pooled.nu, probability)))


def compare_spreads(first: Spread, second: Spread) -> SpreadTest:
    """Test whether two spreads are of one size: F test, two-sided p = 2·min(P(F ≤ f), P(F ≥ f)) (e-Handbook, 1.3.5.9).

    Raises SpreadUnusable.
    """
    from scipy.special import fdtr, fdtrc

    for one in (first, second):
        _refuse_unusable(one, is_zero_allowed=False)
    ratio = (first.s / second.s) ** 2
    tails = float(fdtr(first.nu, second.nu, ratio)), float(fdtrc(first.nu, second.nu, ratio))
    return SpreadTest(ratio, min(1.0, 2 * min(tails)))


def _refuse_unusable(one: Spread, *, is_zero_allowed: bool) -> None:
    is_size = math.isfinite(one.s) and (one.s > 0 or (is_zero_allowed and one.s == 0))
    if not (is_size and 1 <= one.nu < math.inf):
        expected = "of zero or more" if is_zero_allowed else "above zero"
        raise SpreadUnusable(expected=expected, s=one.s, nu=one.nu)
