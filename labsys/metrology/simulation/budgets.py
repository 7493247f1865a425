"""A budget's components simulated and held against what ``combine`` made of them.

Lives here: from components to densities. May not live here: where components come from, what follows from it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from labsys.errors import LabError
from labsys.metrology.budget import Budget
from labsys.metrology.components import Component, Distribution
from labsys.metrology.coverage import NoSpread
from labsys.metrology.simulation.bounded import Between, Density, Form
from labsys.metrology.simulation.comparison import FINER, Comparison, FirstOrder, compare
from labsys.metrology.simulation.densities import Normal, Student
from labsys.metrology.simulation.intervals import Wanted
from labsys.metrology.simulation.model import Input, MeasurementModel
from labsys.metrology.simulation.trials import USUAL_TRIALS, simulate_adaptively

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_FORMS: Final[Mapping[Distribution, Form]] = {
    Distribution.RECTANGULAR: Form.RECTANGULAR,
    Distribution.TRIANGULAR: Form.TRIANGULAR,
    Distribution.TRAPEZOIDAL: Form.TRAPEZOIDAL,
    Distribution.ARCSINE: Form.ARCSINE,
}


class MixedGroup(LabError, ValueError):
    """Fully correlated components of different distributions, which no common draw can follow."""

    code = "mixed-group"
    sentence = (
        "Expected fully correlated components of one distribution, found {found} in the group “{group}”. Give them one "
        "distribution, or groups of their own."
    )


def compare_budget(
    budget: Budget, *, rng: np.random.Generator, digits: int = 2, most_trials: int = USUAL_TRIALS
) -> Comparison:
    """Simulate the components of ``budget`` and hold its U against the symmetric interval (JCGM 101:2008, 8), in mm.

    Trials go on until the simulation has settled to a fifth of δ (8.2) or ``most_trials`` are used up; the comparison
    says which. Raises NoSpread for an exact budget, MixedGroup, TooLittleFreedomToDraw (a component with ν of two or
    fewer), TrialsOutOfRange.
    """
    simulated = simulate_adaptively(
        model_of([row.component for row in budget.rows]),
        rng=rng,
        digits=digits,
        wanted=Wanted(budget.probability),
        tolerance_share=FINER,
        most_trials=most_trials,
    )
    first = FirstOrder(0.0, budget.u_mm, budget.U_mm, budget.probability)
    return compare(first, simulated, digits=digits)


def model_of(components: Sequence[Component]) -> MeasurementModel:
    """Make the sum of the components' deviations, in mm, one input for each that is independent of the rest.

    Components of one group and one sign share their draw. Finite ν: of a normal one, Student's density with u as its
    scale (JCGM 101:2008, 6.4.9); of limits ± a, a doubt of the limits of a/√(2ν), as 9.5 of that document takes it. A
    *product* is drawn as normal: its component says no more than a standard uncertainty. Raises NoSpread, MixedGroup,
    TooLittleFreedomToDraw.
    """
    bundles: dict[tuple[object, ...], list[Component]] = {}
    for place, one in enumerate(components):
        key = (place,) if one.group is None else (one.group, one.sensitivity < 0)
        if one.contribution_mm > 0:
            bundles.setdefault(key, []).append(one)
    if not bundles:
        raise NoSpread(where=" to simulate")
    inputs = [Input(f"{place}", _density(bundle)) for place, bundle in enumerate(bundles.values())]
    return MeasurementModel(_sum, tuple(inputs))


def _sum(drawn: Mapping[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    first, *rest = drawn.values()
    for one in rest:
        first += one
    return first


def density_of(component: Component, estimate: float = 0.0) -> Density:
    """Give the density of one component about its ``estimate``, in its own unit; finite ν as in ``model_of``.

    Raises TooLittleFreedomToDraw.
    """
    return _spread(component, component.standard_uncertainty, component.nu, estimate)


def _density(bundle: Sequence[Component]) -> Density:
    """Give the density of a bundle's sum: its members differ by a factor only."""
    shapes = {(_FORMS.get(one.distribution), one.beta) for one in bundle}
    if len(shapes) > 1:
        found = " and ".join(sorted({one.distribution.value for one in bundle}))
        raise MixedGroup(found=found, group=bundle[0].group)
    u = math.fsum(one.contribution_mm for one in bundle)
    return _spread(bundle[0], u, min(one.nu for one in bundle), 0.0)


def _spread(shape: Component, u: float, nu: float, middle: float) -> Density:
    form, beta = _FORMS.get(shape.distribution), shape.beta
    if form is None:
        return Normal(middle, u) if math.isinf(nu) else Student(middle, u, nu)
    half_width = u * math.sqrt(_SQUARED_DIVISORS[form] if beta is None else 6 / (1 + beta**2))
    doubt = 0.0 if math.isinf(nu) else half_width / math.sqrt(2 * nu)
    return Between(middle - half_width, middle + half_width, form, beta, doubt)


_SQUARED_DIVISORS: Final[Mapping[Form, float]] = {Form.RECTANGULAR: 3, Form.TRIANGULAR: 6, Form.ARCSINE: 2}
