"""Re-evaluating many stored results at once: new values, new U, new verdicts, and which of them flip.

Lives here: ``reevaluate_many`` and its answer. May not live here: records one by one (reevaluating.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labsys.metrology.arrays import NO_VERDICT, UncertaintyArrays, verdicts_in, zones_many
from labsys.metrology.reevaluation.carrying import carry
from labsys.metrology.reevaluation.ordering import levels_of
from labsys.metrology.reevaluation.replacing import replace_uncertainties
from labsys.metrology.reevaluation.tables import ChangeArrays, ResultArrays, UseArrays

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Values:
    """Values of N results in whole picometres and their verdicts, with the number of the refusal where there's none."""

    values_pm: NDArray[np.int64]
    verdicts: NDArray[np.int8]
    refusals: NDArray[np.int8]


@dataclass(frozen=True, slots=True, eq=False)
class ReevaluationArrays:
    """What becomes of N results.

    ``before`` as stored; ``worst`` with the whole Δ at the time of use; ``interpolated`` with Δ interpolated in time.
    ``uncertainty`` is that of the two latter; ``has_new_U`` says where it isn't the stored one.
    """

    before: Values
    worst: Values
    interpolated: Values
    uncertainty: UncertaintyArrays
    has_new_U: NDArray[np.bool_]

    @property
    def flips(self) -> NDArray[np.int64]:
        """Give the places of the results whose verdict changes either way; one that comes to be refused flips too."""
        import numpy as np

        before = self.before.verdicts
        return np.flatnonzero((self.worst.verdicts != before) | (self.interpolated.verdicts != before))


def reevaluate_many(
    results: ResultArrays, uses: UseArrays, changes: ChangeArrays, *, name: Callable[[int], str] = str
) -> ReevaluationArrays:
    """Carry changes of standards into N results: y′ = y + Σ c·Δ, e′ = e − Δ for an indicating gauge, and judge again.

    A result that became another standard's value passes its change on, and its U where that changed. Both ways at
    once: the whole Δ at the time of use, and Δ interpolated in time. Values are exact in picometres; verdicts come
    from the same rules as when the results were issued. ``name`` makes errors readable. Raises ChainIsACircle,
    ChangeTooLarge, BadReevaluation, LimitTooFar and what a changed budget raises.
    """
    levels = levels_of(uses, changes=len(changes.deltas_pm), results=len(results.values_pm), name=name)
    uncertainty, has_new_U = replace_uncertainties(results, levels, uses, changes)
    values = [results.values_pm]
    for moved in carry(levels, uses, results.days, changes):
        moved += results.values_pm
        values.append(moved)
    if uncertainty is results.uncertainty:
        before, worst, interpolated = _judge(results, uncertainty, values)
    else:
        (before,) = _judge(results, results.uncertainty, values[:1])
        worst, interpolated = _judge(results, uncertainty, values[1:])
    return ReevaluationArrays(before, worst, interpolated, uncertainty, has_new_U)


def _judge(
    results: ResultArrays, uncertainty: UncertaintyArrays, values: list[NDArray[np.int64]]
) -> list[Values]:
    """Judge each of several lists of values, every result by its own rule; acceptance limits are worked out once."""
    import numpy as np

    count = len(results.values_pm)
    found = [Values(one, np.full(count, NO_VERDICT, np.int8), np.zeros(count, np.int8)) for one in values]
    for number, rule in enumerate(results.rules):
        is_own = results.rule_of == number
        own = slice(None) if bool(is_own.all()) else np.flatnonzero(is_own)
        zones = zones_many(results.limits.at(own), rule, uncertainty.at(own))
        for one in found:
            one.verdicts[own] = verdicts_in(zones, one.values_pm[own])
            one.refusals[own] = zones.refusals
    return found
