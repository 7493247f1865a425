"""Many results at once: the arithmetic of budgets, acceptance limits and verdicts over numpy arrays.

Lives here: the same answers as ``budget.combine``, ``acceptance_limits`` and ``decide`` give one by one, for points by
the hundred thousand; whatever comes so close to an edge that the last bit of a float could decide it is worked out by
those very functions. Lengths to be judged are whole picometres. May not live here: rules of its own.
"""

from labsys.metrology.arrays.budgets import BudgetArrays, combine_many
from labsys.metrology.arrays.components import ComponentArrays, ShapesDiffer
from labsys.metrology.arrays.limits import NO_LOWER, NO_UPPER, LimitArrays, LimitTooFar
from labsys.metrology.arrays.spreads import UncertaintyArrays, conformance_probabilities
from labsys.metrology.arrays.verdicts import NO_VERDICT, VERDICTS, JudgementArrays, judge_many, verdicts_in
from labsys.metrology.arrays.zones import REFUSALS, ZoneArrays, zones_many

__all__ = [
    "NO_LOWER",
    "NO_UPPER",
    "NO_VERDICT",
    "REFUSALS",
    "VERDICTS",
    "BudgetArrays",
    "ComponentArrays",
    "JudgementArrays",
    "LimitArrays",
    "LimitTooFar",
    "ShapesDiffer",
    "UncertaintyArrays",
    "ZoneArrays",
    "combine_many",
    "conformance_probabilities",
    "judge_many",
    "verdicts_in",
    "zones_many",
]
