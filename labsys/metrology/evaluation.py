"""From a procedure's components and the facts of one point to both views of its uncertainty.

Lives here: ``evaluate``, the front door to specs, inputs and views. May not live here: verdicts (decision.py).
"""

from __future__ import annotations

from collections.abc import Sequence

from labsys.metrology.budget import Budget, combine, exact
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

    With the faces closed on each other (length 0, no reference) the test value is exact and its U is zero.
    Raises NothingToCombine or NoSpread where a view has nothing in it, BadComponent for facts that can't be (NaN,
    negative sizes).
    """
    return Views(**{view.value: _budget(specs, inputs, view, probability, freedom_rule) for view in View})


def _budget(
    specs: Sequence[Spec], inputs: PointInputs, view: View, probability: float, freedom_rule: FreedomRule
) -> Budget:
    components = [one for spec in specs if view in spec.enters for one in spec.components(inputs)]
    is_exact = not any(component.contribution_mm for component in components)
    if view is View.TEST_VALUE and inputs.are_faces_closed and is_exact:
        return exact(components, probability=probability, freedom_rule=freedom_rule)
    where = f"the {VIEW_WORDS[view]}"
    return combine(components, probability=probability, freedom_rule=freedom_rule, where=where)
