"""The verdicts on many errors, the same as ``decide`` gives one by one.

Lives here: ``judge_many`` and its answer. May not live here: acceptance limits (zones.py), rules.
"""

from __future__ import annotations

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

VERDICTS: Final = tuple(Verdict)
"""Verdicts in the order of their numbers in an array, from the mildest: the most severe of many is the largest."""

NO_VERDICT: Final = -1
IN, OUT = VERDICTS.index(Verdict.IN_TOLERANCE), VERDICTS.index(Verdict.OUT_OF_TOLERANCE)


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
    accepted = (zones.lower_pm <= errors_pm) & (errors_pm <= zones.upper_pm)
    found = np.where(accepted, np.int8(IN), np.int8(OUT))
    if zones.rule.kind not in AT_THE_LIMITS:
        between = (zones.outer_lower_pm <= errors_pm) & (errors_pm <= zones.outer_upper_pm) & ~accepted
        np.copyto(found, _between(zones, errors_pm), where=between)
    np.copyto(found, np.int8(NO_VERDICT), where=zones.refusals != 0)
    return found


def _between(zones: ZoneArrays, errors_pm: NDArray[np.int64]) -> NDArray[np.int8]:
    """Give what the rule says of an error that is neither accepted nor out of tolerance."""
    import numpy as np

    if zones.rule.kind is RuleKind.PROVE:
        return np.int8(VERDICTS.index(Verdict.NOT_DECIDED)) + np.zeros(1, np.int8)
    if zones.rule.kind is not RuleKind.FOUR_WAY:
        return np.int8(VERDICTS.index(Verdict.NOT_ACCEPTED)) + np.zeros(1, np.int8)
    inside = (zones.limits.lower_pm <= errors_pm) & (errors_pm <= zones.limits.upper_pm)
    words = Verdict.CONDITIONAL_INSIDE, Verdict.CONDITIONAL_OUTSIDE
    return np.where(inside, *(np.int8(VERDICTS.index(word)) for word in words))
