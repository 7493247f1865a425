"""From a family's as-found errors to the risks of its next gauge under the agreed rule.

Lives here: prior from history, and what a history has to have. May not live here: where the errors are kept.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from labsys.metrology.acceptance import acceptance_limits
from labsys.metrology.exact import NotANumber
from labsys.metrology.limits import Limits, within_limits
from labsys.metrology.risk.population import BadRiskInput, GlobalRisks, Prior, global_risks
from labsys.metrology.rules import Rule

LEAST_ERRORS: Final = 20
"""With so many errors the spread is known to about 16 % (1/√(2(n − 1))); fewer say too little about it."""
INTERVAL: Final = 0.95
"""Probability of the interval that the population's spread is given with."""


@dataclass(frozen=True, slots=True)
class FamilyRisks:
    """Global risks of a family, or what is missing to know them.

    ``count`` errors were given and ``needed`` are wanted; ``needs`` says what is missing, empty where nothing is.
    ``prior`` is the population of true errors, ``narrow`` and ``wide`` hold the risks at both ends of the 95 %
    interval of its spread (``narrow`` is None where that end can't be told from no spread at all).
    ``found_outside`` errors lay beyond a limit where the model expects ``expected_outside``: where the two are far
    apart, the errors aren't normal and the risks don't hold.
    """

    count: int
    needed: int
    needs: str
    prior: Prior | None = None
    risks: GlobalRisks | None = None
    narrow: GlobalRisks | None = None
    wide: GlobalRisks | None = None
    found_outside: int = 0
    expected_outside: float | None = None


def family_risks(
    errors_mm: Sequence[Decimal], *, limits: Limits, rule: Rule, U_mm: float, u_mm: float
) -> FamilyRisks:
    """Take a family's as-found errors as samples of its population and give the risks under ``rule``.

    One error of each calibration, unrounded, in mm and all under the same ``limits``: several points of one gauge are
    alike and would count it twice. The variance of the true errors is that of the errors found less that of the
    measurement, u² (JCGM 106:2012, 9.5 with a prior from history). Raises NotANumber,
    BadRiskInput and what ``acceptance_limits`` raises.
    """
    if not (U_mm >= 0 and u_mm >= 0):
        raise BadRiskInput(expected="uncertainties of zero or more", found=min(U_mm, u_mm))
    zone = acceptance_limits(limits, rule, U_mm, u_mm)
    if not all(error.is_finite() for error in errors_mm):
        raise NotANumber(found="nan or infinity among the errors")
    count = len(errors_mm)
    if count < LEAST_ERRORS:
        return FamilyRisks(count, LEAST_ERRORS, _too_few(count))
    mean, s = _mean_and_deviation(errors_mm)
    if s <= u_mm or s == 0:
        return FamilyRisks(count, LEAST_ERRORS, _no_more_than_measured(s, u_mm))
    narrow, wide = (_true_spread(s * factor, u_mm) for factor in _interval(count))
    prior = Prior(mean, math.sqrt((s - u_mm) * (s + u_mm)))
    risks = global_risks(limits, zone, prior, u_mm)
    seen = global_risks(limits, limits, Prior(mean, s), 0.0)
    return FamilyRisks(
        count=count,
        needed=LEAST_ERRORS,
        needs="",
        prior=prior,
        risks=risks,
        narrow=None if narrow is None else global_risks(limits, zone, Prior(mean, narrow), u_mm),
        wide=None if wide is None else global_risks(limits, zone, Prior(mean, wide), u_mm),
        found_outside=sum(not within_limits(error, limits) for error in errors_mm),
        expected_outside=count * (1 - seen.conforming),
    )


def _mean_and_deviation(errors_mm: Sequence[Decimal]) -> tuple[float, float]:
    errors = [float(error) for error in errors_mm]
    mean = math.fsum(errors) / len(errors)
    return mean, math.sqrt(math.fsum((error - mean) * (error - mean) for error in errors) / (len(errors) - 1))


def _interval(count: int) -> tuple[float, float]:
    """Give what the deviation found is multiplied with for both ends of its interval (normal errors, χ²)."""
    from scipy.special import chdtri

    tail = (1 - INTERVAL) / 2
    return tuple(math.sqrt((count - 1) / float(chdtri(count - 1, p))) for p in (tail, 1 - tail))  # type: ignore[return-value]


def _true_spread(seen: float, u_mm: float) -> float | None:
    return math.sqrt((seen - u_mm) * (seen + u_mm)) if seen > u_mm else None


def _too_few(count: int) -> str:
    return (
        f"Expected at least {LEAST_ERRORS} as-found errors of the family, found {count}. "
        f"After {LEAST_ERRORS - count} more calibrations the risks can be given."
    )


def _no_more_than_measured(s: float, u_mm: float) -> str:
    return (
        f"The errors scatter by s = {s:.3g} mm, no more than the measurement itself with u = {u_mm:.3g} mm. "
        "Expected a spread of the family that can be told from it: name the uncertainty of the test value in the rule, "
        "or measure better."
    )
