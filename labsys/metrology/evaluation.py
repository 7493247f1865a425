"""From a procedure's components and the facts of one point to both views of its uncertainty.

Lives here: ``evaluate``, the front door to specs, inputs and views. May not live here: verdicts (decision.py).
"""

from __future__ import annotations

from collections.abc import Sequence

from labsys.metrology.budget import combine
from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule
from labsys.metrology.inputs import PointInputs
from labsys.metrology.specs import Spec
from labsys.metrology.views import VIEW_WORDS, View, Views


def evaluate(
    specs: Sequence[Spec],
    inputs: PointInputs,
    *,
    probability: float = DEFAULT_PROBABILITY,
    freedom_rule: FreedomRule = FreedomRule.TRUNCATE,
) -> Views:
    """Work out calibration and test value uncertainty of one point, in mm.

    Raises NothingToCombine or NoSpread where a view has nothing in it, BadComponent for facts that can't be
    (NaN, negative sizes).
    """
    budgets = {
        view.value: combine(
            [component for spec in specs if view in spec.enters for component in spec.components(inputs)],
            probability=probability,
            freedom_rule=freedom_rule,
            where=f"the {VIEW_WORDS[view]}",
        )
        for view in View
    }
    return Views(**budgets)
