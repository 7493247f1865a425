"""The verdict on one error under an agreed rule. The front door to rules, limits and verdicts.

Lives here: ``decide`` and what it answers. May not live here: who agreed to a rule, restrictions of use.
Verdicts compare whole picometres of unrounded values; a value on a limit is inside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from labsys.metrology.acceptance import (
    AccuracyRatioNotDefined,
    AccuracyRatioTooLow,
    EmptyAcceptanceZone,
    acceptance_limits,
    accuracy_ratio,
    guard_width,
    shifted_inward,
)
from labsys.metrology.conformance import Spread, conformance_probability
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.limits import LimitMissing, Limits, LimitsCrossed, within_limits
from labsys.metrology.reporting import format_signed, report
from labsys.metrology.rules import BadRule, Rule, RuleKind
from labsys.metrology.units import Unit
from labsys.metrology.verdicts import NothingToRollUp, Verdict, roll_up
from labsys.metrology.views import View, Views

__all__ = [
    "AccuracyRatioNotDefined",
    "AccuracyRatioTooLow",
    "BadRule",
    "Decision",
    "EmptyAcceptanceZone",
    "LimitMissing",
    "Limits",
    "LimitsCrossed",
    "NothingToRollUp",
    "Rule",
    "RuleKind",
    "Verdict",
    "acceptance_limits",
    "accuracy_ratio",
    "decide",
    "judge",
    "roll_up",
    "within_limits",
]


@dataclass(frozen=True, slots=True)
class Decision:
    """One verdict and everything printed beside it.

    ``acceptance`` are the acceptance limits in mm, ``outer`` those beyond which the rule says out of tolerance;
    ``margin_mm`` the distance to the nearest unguarded limit (minus outside); ``ratio`` is (T_U − T_L)/(2U), None with
    a limit on one side; ``U_used_mm`` belongs to ``view``; ``note`` says where the rounded values would seem to
    contradict the verdict, empty otherwise.
    """

    verdict: Verdict
    acceptance: Limits
    outer: Limits
    margin_mm: Decimal
    ratio: float | None
    conformance_probability: float
    U_used_mm: float
    view: View
    note: str


def decide(
    *, error_mm: Decimal, limits: Limits, rule: Rule, views: Views, reported_error_mm: Decimal | None = None
) -> Decision:
    """Judge one unrounded ``error_mm`` by ``rule`` with the uncertainty that the rule names.

    ``reported_error_mm`` is the error as the certificate prints it, for the note; without it, U of the
    calibration to two digits settles the rounding. The conformance probability takes the shape of the named
    budget. Raises what ``acceptance_limits`` raises.
    """
    budget = views.of(rule.view)
    if reported_error_mm is None:
        exact = from_picometres(to_picometres(error_mm))
        reported_error_mm = report(exact, views.calibration.U_mm).error_mm
    return judge(
        error_mm=error_mm,
        limits=limits,
        rule=rule,
        U_mm=budget.U_mm,
        spread=Spread.of(budget),
        reported_error_mm=reported_error_mm,
    )


def judge(
    *, error_mm: Decimal, limits: Limits, rule: Rule, U_mm: float, spread: Spread, reported_error_mm: Decimal
) -> Decision:
    """Judge one unrounded ``error_mm`` where U of the view that the rule names is known as a number alone.

    ``spread`` is the standard uncertainty behind ``U_mm`` with its shape. Raises what ``acceptance_limits`` raises.
    """
    zone = acceptance_limits(limits, rule, U_mm, spread.u_mm, spread=spread)
    outer = _outer_limits(limits, rule, U_mm, spread.u_mm)
    error = from_picometres(to_picometres(error_mm))
    verdict = _verdict(error, limits, zone, outer, rule.kind)
    as_rounded = _verdict(reported_error_mm, limits, zone, outer, rule.kind)
    return Decision(
        verdict=verdict,
        acceptance=zone,
        outer=outer,
        margin_mm=limits.margin(error),
        ratio=accuracy_ratio(limits, U_mm),
        conformance_probability=conformance_probability(error, limits, spread),
        U_used_mm=U_mm,
        view=rule.view,
        note=""
        if as_rounded is verdict
        else _note((error, verdict), (reported_error_mm, as_rounded), limits.unit),
    )


def _outer_limits(limits: Limits, rule: Rule, U_mm: float, u_mm: float) -> Limits:
    """Give the limits beyond which a rule says out of tolerance: T, moved outward where there's something between."""
    if rule.kind not in (RuleKind.PROVE, RuleKind.FOUR_WAY):
        return limits
    guard = guard_width(limits, rule, U_mm, u_mm)
    return (shifted_inward(limits, -guard) if guard is not None else None) or limits


def _verdict(error_mm: Decimal, limits: Limits, zone: Limits, outer: Limits, kind: RuleKind) -> Verdict:
    if within_limits(error_mm, zone):
        return Verdict.IN_TOLERANCE
    if not within_limits(error_mm, outer):
        return Verdict.OUT_OF_TOLERANCE
    if kind is RuleKind.PROVE:
        return Verdict.NOT_DECIDED
    if kind is not RuleKind.FOUR_WAY:
        return Verdict.NOT_ACCEPTED
    return Verdict.CONDITIONAL_INSIDE if within_limits(error_mm, limits) else Verdict.CONDITIONAL_OUTSIDE


def _note(exact: tuple[Decimal, Verdict], printed: tuple[Decimal, Verdict], unit: Unit) -> str:
    """Say what the error is and reads exactly, and what as it is printed."""
    (error, verdict), (rounded, as_rounded) = exact, printed
    decimals = max(0, -int(rounded.as_tuple().exponent))
    return (
        f"Judged on the unrounded error {format_signed(error, decimals=9)}{unit.gap}{unit}: {verdict.words}. "
        f"The rounded value {format_signed(rounded, decimals=decimals)}{unit.gap}{unit} alone would read "
        f"{as_rounded.words}."
    )
