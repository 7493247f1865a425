"""The uncertainty of the difference of two errors of one gauge.

Lives here: both views of it, from the same components as those of one error. May not live here: what a component
does in a difference (each kind says that itself, in specs).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from labsys.metrology.budget import Budget, combine, exact
from labsys.metrology.components import Component
from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule
from labsys.metrology.inputs import PointInputs
from labsys.metrology.specs import Spec
from labsys.metrology.views import VIEW_WORDS, View, Views


def difference_views(
    specs: Sequence[Spec],
    high: PointInputs,
    low: PointInputs,
    *,
    factor: float = 1.0,
    probability: float = DEFAULT_PROBABILITY,
    freedom_rule: FreedomRule = FreedomRule.TRUNCATE,
) -> Views:
    """Work out calibration and test value uncertainty of ``factor`` times the error at ``high`` less that at ``low``.

    What both readings have in common (the zero, the same element, the temperature at the same length) goes with its
    difference of sensitivities and cancels where these are equal; what each has of its own adds (JCGM 100:2008, 5.2.2,
    with r = 1 and r = 0). Two elements of one certificate count as independent of each other: the correlation that is
    left out would make U smaller. That the two are the extremes of several isn't in U.

    A test value in which everything cancels has U = 0. Raises NothingToCombine, NoSpread, BadComponent.
    """
    found = {}
    for view in View:
        components = [
            _scaled(one, factor)
            for spec in specs
            if view in spec.enters
            for one in spec.difference(high, low)
        ]
        found[view.value] = _budget(components, view, probability, freedom_rule)
    return Views(**found)


def _budget(components: list[Component], view: View, probability: float, freedom_rule: FreedomRule) -> Budget:
    if view is View.TEST_VALUE and not any(one.contribution_mm for one in components):
        return exact(components, probability=probability, freedom_rule=freedom_rule)
    where = f"the {VIEW_WORDS[view]} of a difference"
    return combine(components, probability=probability, freedom_rule=freedom_rule, where=where)


def _scaled(component: Component, factor: float) -> Component:
    return component if factor == 1 else replace(component, sensitivity=component.sensitivity * factor)
