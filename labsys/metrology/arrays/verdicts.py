"""The verdicts on many errors, the same as ``decide`` gives one by one.

Lives here: ``judge_many`` and its answer. May not live here: acceptance limits (zones.py), rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from labsys.metrology.acceptance import acceptance_limits
from labsys.metrology.arrays.components import ShapesDiffer
from labsys.metrology.arrays.limits import LimitArrays, refuse_far
from labsys.metrology.arrays.spreads import UncertaintyArrays
from labsys.metrology.arrays.zones import AT_THE_LIMITS, ZoneArrays, zones_many
from labsys.metrology.rules import Rule, RuleKind
from labsys.metrology.verdicts import Verdict

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Whole = NDArray[np.int64]

VERDICTS: Final = tuple(Verdict)
"""Verdicts in the order of their numbers in an array, from the mildest: the most severe of many is the largest."""

NO_VERDICT: Final = -1


@dataclass(frozen=True, slots=True, eq=False)
class JudgementArrays:
    """The verdicts on N errors (numbers in VERDICTS; NO_VERDICT where the rule refuses) and the zones they rest on."""

    errors_pm: NDArray[np.int64]
    zones: ZoneArrays
    verdicts: NDArray[np.int8]

    def one(self, point: int) -> Verdict:
        """Give one verdict; raises what ``acceptance_limits`` raises where the rule refuses."""
        number = int(self.verdicts[point])
        if number != NO_VERDICT:
            return VERDICTS[number]
        zones = self.zones
        spread, U = zones.uncertainty.one(point), float(zones.uncertainty.U_mm[point])
        acceptance_limits(zones.limits.one(point), zones.rule, U, spread.u_mm, spread=spread)
        raise AssertionError(f"point {point} was refused and is not")


def judge_many(
    errors_pm: NDArray[np.int64], limits: LimitArrays, rule: Rule, uncertainty: UncertaintyArrays
) -> JudgementArrays:
    """Judge N unrounded errors (whole picometres) by one rule with the uncertainty it names.

    A result that the rule refuses has no verdict and stops no other. Raises ShapesDiffer, LimitTooFar.
    """
    zones = zones_many(limits, rule, uncertainty)
    return JudgementArrays(errors_pm, zones, verdicts_in(zones, errors_pm))


def verdicts_in(zones: ZoneArrays, errors_pm: NDArray[np.int64]) -> NDArray[np.int8]:
    """Give the numbers of the verdicts; raises ShapesDiffer, LimitTooFar for an error beyond 1 km."""
    import numpy as np

    if errors_pm.shape != zones.lower_pm.shape:
        raise ShapesDiffer(name="errors", expected=zones.lower_pm.shape, found=errors_pm.shape)
    refuse_far(errors_pm, "an error")
    found = np.full(errors_pm.shape, VERDICTS.index(Verdict.OUT_OF_TOLERANCE), np.int8)
    reached = Verdict.OUT_OF_TOLERANCE
    for (lower, upper), verdict in _ladder(zones):
        # The zones lie within each other, so that going inward is a step down for everything inside.
        inside = (lower <= errors_pm) & (errors_pm <= upper)
        found -= inside.view(np.int8) * np.int8(VERDICTS.index(reached) - VERDICTS.index(verdict))
        reached = verdict
    if zones.refusals.any():
        found[zones.refusals != 0] = NO_VERDICT
    return found


def _ladder(zones: ZoneArrays) -> Iterator[tuple[tuple[Whole, Whole], Verdict]]:
    """Give the zones of a rule from the outermost, each with what the rule says of an error within it."""
    kind = zones.rule.kind
    outer = zones.outer_lower_pm, zones.outer_upper_pm
    if kind is RuleKind.PROVE:
        yield outer, Verdict.NOT_DECIDED
    elif kind is RuleKind.FOUR_WAY:
        yield outer, Verdict.CONDITIONAL_OUTSIDE
        yield (zones.limits.lower_pm, zones.limits.upper_pm), Verdict.CONDITIONAL_INSIDE
    elif kind not in AT_THE_LIMITS:
        yield outer, Verdict.NOT_ACCEPTED
    yield (zones.lower_pm, zones.upper_pm), Verdict.IN_TOLERANCE
