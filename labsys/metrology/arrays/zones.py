"""Acceptance limits of many results under one rule, in the same whole picometres as ``acceptance_limits`` gives.

Lives here: acceptance and outer limits, and which results the rule refuses. May not live here: how far a rule moves
the limits (shifting.py), verdicts (verdicts.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from labsys.errors import LabError
from labsys.metrology.acceptance import AccuracyRatioNotDefined, AccuracyRatioTooLow, EmptyAcceptanceZone
from labsys.metrology.arrays.blocks import BLOCK, blocks
from labsys.metrology.arrays.components import ShapesDiffer
from labsys.metrology.arrays.guards import guards_for_risk
from labsys.metrology.arrays.limits import LimitArrays
from labsys.metrology.arrays.shifting import are_ratios_poor, shift
from labsys.metrology.arrays.spreads import UncertaintyArrays
from labsys.metrology.limits import LimitMissing, Limits
from labsys.metrology.rules import Rule, RuleKind

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Whole = NDArray[np.int64]

REFUSALS: Final[tuple[type[LabError] | None, ...]] = (
    None,
    LimitMissing,
    AccuracyRatioTooLow,
    AccuracyRatioNotDefined,
    EmptyAcceptanceZone,
)
"""Why a rule gives no acceptance limits, in the order of their numbers in an array; the first is no refusal."""

MISSING, TOO_LOW, NOT_DEFINED, EMPTY = range(1, 5)
AT_THE_LIMITS: Final = frozenset({RuleKind.SIMPLE, RuleKind.PRESCRIBED})
WITH_OUTER: Final = frozenset({RuleKind.PROVE, RuleKind.FOUR_WAY})


@dataclass(frozen=True, slots=True, eq=False)
class ZoneArrays:
    """Where ``rule`` accepts N results, and beyond what it says out of tolerance, in picometres.

    ``refusals`` are numbers in REFUSALS; where they aren't zero the acceptance limits mean nothing.
    """

    rule: Rule
    limits: LimitArrays
    uncertainty: UncertaintyArrays
    lower_pm: Whole
    upper_pm: Whole
    outer_lower_pm: Whole
    outer_upper_pm: Whole
    refusals: NDArray[np.int8]

    def acceptance(self, point: int) -> Limits:
        """Give the limits in mm between which one result is accepted; for one that isn't refused."""
        return LimitArrays(self.lower_pm[point : point + 1], self.upper_pm[point : point + 1]).one(0)

    def outer(self, point: int) -> Limits:
        """Give the limits in mm beyond which one result is out of tolerance."""
        return LimitArrays(
            self.outer_lower_pm[point : point + 1], self.outer_upper_pm[point : point + 1]
        ).one(0)


def zones_many(limits: LimitArrays, rule: Rule, uncertainty: UncertaintyArrays) -> ZoneArrays:
    """Give the acceptance and outer limits of N results, as ``acceptance_limits`` and ``decide`` use them one by one.

    A result that the rule refuses carries the number of the refusal and stops no other. Raises ShapesDiffer, and
    LimitTooFar for a U beyond 1 km.
    """
    import numpy as np

    count = len(limits.lower_pm)
    if len(uncertainty.U_mm) != count:
        raise ShapesDiffer(name="uncertainties", expected=(count,), found=uncertainty.U_mm.shape)
    own = limits.lower_pm, limits.upper_pm
    refusals = np.zeros(count, np.int8)
    inner = own if rule.kind in AT_THE_LIMITS else _room(count)
    outer = _room(count) if rule.kind in WITH_OUTER else own
    for part in blocks(count, 4 * BLOCK):
        views = [(lower[part], upper[part]) for lower, upper in (inner, outer)]
        _fill(rule, limits.at(part), uncertainty.at(part), (views[0], views[1]), refusals[part])
    return ZoneArrays(rule, limits, uncertainty, *inner, *outer, refusals)


def _fill(
    rule: Rule,
    limits: LimitArrays,
    uncertainty: UncertaintyArrays,
    zones: tuple[tuple[Whole, Whole], tuple[Whole, Whole]],
    refusals: NDArray[np.int8],
) -> None:
    """Move acceptance and outer limits of a block in place, and note refusals."""
    import numpy as np

    inner, outer = zones
    if rule.kind is RuleKind.SIMPLE and rule.min_ratio is not None:
        refusals[are_ratios_poor(limits, uncertainty.U_mm, rule.min_ratio)] = TOO_LOW
        refusals[limits.have_no_lower | limits.have_no_upper] = NOT_DEFINED
    if rule.kind not in AT_THE_LIMITS:
        widths, multiple = uncertainty.U_mm, rule.g
        if rule.kind is RuleKind.SPECIFIC_RISK:
            risk = float(rule.max_false_accept or 0)
            widths = guards_for_risk(limits, uncertainty, max_false_accept=risk)
            refusals[widths < 0] = EMPTY
            widths, multiple = np.maximum(widths, 0.0), Decimal(1)
        shift(limits, widths, multiple, inner)
        refusals[inner[0] > inner[1]] = EMPTY
        if rule.kind in WITH_OUTER:
            shift(limits, widths, -multiple, outer)
    refusals[limits.have_no_lower & limits.have_no_upper] = MISSING


def _room(count: int) -> tuple[Whole, Whole]:
    import numpy as np

    return np.empty(count, np.int64), np.empty(count, np.int64)
