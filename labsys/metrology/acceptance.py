"""From limits, a rule and an uncertainty to the limits between which a result is accepted.

Lives here: accuracy ratio, guard, acceptance limits and their refusals. May not live here: the verdict on one
error (decision.py).
"""

from __future__ import annotations

import math
from decimal import Decimal, localcontext

from labsys.errors import LabError
from labsys.metrology.conformance import Spread, guard_for_risk
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.exact import EXACT
from labsys.metrology.limits import LimitMissing, Limits
from labsys.metrology.rules import Rule, RuleKind


class AccuracyRatioTooLow(LabError, ValueError):
    """Simple acceptance was agreed for a better accuracy ratio than there is."""

    code = "accuracy-ratio-too-low"
    sentence = (
        "Simple acceptance expects an accuracy ratio of at least {expected}, found {found:.2f} with "
        "U = {U_mm:.6f}{gap}{unit}. "
        "Agree a guarded rule, name the other uncertainty in the rule, or reduce U."
    )


class AccuracyRatioNotDefined(LabError, ValueError):
    """Simple acceptance under a ratio was agreed, but a limit on one side has no width to compare U with."""

    code = "accuracy-ratio-not-defined"
    sentence = (
        "Simple acceptance expects an accuracy ratio of at least {expected}, found a limit on one side only, "
        "which has none. Agree a guarded rule, or simple acceptance without a ratio."
    )


class EmptyAcceptanceZone(LabError, ValueError):
    """The guard leaves nothing to accept."""

    code = "empty-acceptance-zone"
    sentence = (
        "Expected room for acceptance between {lower}{gap}{unit} and {upper}{gap}{unit}, found none with "
        "U = {U_mm:.6f}{gap}{unit} under this rule. Reduce U, widen the limits or agree another rule."
    )

    @classmethod
    def between(cls, limits: Limits, U_mm: float) -> EmptyAcceptanceZone:
        """Make the refusal for these limits."""
        unit = limits.unit
        return cls(lower=limits.lower, upper=limits.upper, U_mm=U_mm, gap=unit.gap, unit=unit)


def accuracy_ratio(limits: Limits, U_mm: float) -> float | None:
    """Give (T_U − T_L)/(2U), None for a limit on one side, infinite for U = 0.

    ASME B89.7.3.1 compares the zone between the limits with the uncertainty interval 2U.
    """
    if limits.width_mm is None:
        return None
    return math.inf if U_mm == 0 else float(limits.width_mm) / (2 * U_mm)


def acceptance_limits(
    limits: Limits, rule: Rule, U_mm: float, u_mm: float, *, spread: Spread | None = None
) -> Limits:
    """Give the limits in mm between which ``rule`` accepts, rounded half to even to whole picometres.

    ``spread`` is the shape of the result for a specific risk (None: normal with ``u_mm``). Simple acceptance
    with a limit on one side is refused unless the rule's ``min_ratio`` is None: the ratio compares two widths
    and isn't defined there, and accepting without a condition on U has to be somebody's agreed decision. Under a
    prescribed rule the limits are the specification's own acceptance limits. Raises LimitMissing,
    AccuracyRatioTooLow, AccuracyRatioNotDefined, EmptyAcceptanceZone.
    """
    if limits.lower is None and limits.upper is None:
        raise LimitMissing()
    if rule.kind is RuleKind.PRESCRIBED:
        return limits
    if rule.kind is RuleKind.SIMPLE:
        _refuse_poor_ratio(limits, rule, U_mm)
        return limits
    guard = guard_width(limits, rule, U_mm, u_mm, spread=spread)
    zone = None if guard is None else shifted_inward(limits, guard)
    if zone is None:
        raise EmptyAcceptanceZone.between(limits, U_mm)
    return zone


def guard_width(
    limits: Limits, rule: Rule, U_mm: float, u_mm: float, *, spread: Spread | None = None
) -> Decimal | None:
    """Give the guard w in mm that ``rule`` asks for, None where no guard holds the wanted risk."""
    if rule.kind in (RuleKind.SIMPLE, RuleKind.PRESCRIBED):
        return Decimal(0)
    if rule.kind is not RuleKind.SPECIFIC_RISK:
        with localcontext(EXACT):
            return rule.g * Decimal(U_mm)
    risk = float(rule.max_false_accept or 0)
    solved = guard_for_risk(limits, spread or Spread(u_mm), max_false_accept=risk)
    return None if solved is None else Decimal(solved)


def shifted_inward(limits: Limits, guard_mm: Decimal) -> Limits | None:
    """Move both limits inward by ``guard_mm`` (outward where it's negative), in whole picometres; None where
    they cross.
    """
    with localcontext(EXACT):
        lower = None if limits.lower is None else to_picometres(limits.lower + guard_mm)
        upper = None if limits.upper is None else to_picometres(limits.upper - guard_mm)
    if lower is not None and upper is not None and lower > upper:
        return None
    return Limits(
        None if lower is None else from_picometres(lower),
        None if upper is None else from_picometres(upper),
        unit=limits.unit,
    )


def _refuse_poor_ratio(limits: Limits, rule: Rule, U_mm: float) -> None:
    """Compare widths in whole picometres, so that a ratio of exactly the agreed one passes."""
    if rule.min_ratio is None:
        return
    if limits.width_mm is None:
        raise AccuracyRatioNotDefined(expected=rule.min_ratio)
    if to_picometres(limits.width_mm) < rule.min_ratio * 2 * to_picometres(U_mm):
        ratio, unit = accuracy_ratio(limits, U_mm), limits.unit
        raise AccuracyRatioTooLow(expected=rule.min_ratio, found=ratio, U_mm=U_mm, gap=unit.gap, unit=unit)
