"""A model that is a sum of terms, made ready for simulation: the same model that first order goes through.

Lives here: terms as functions of arrays, inputs as densities. May not live here: derivatives (propagation).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from labsys.metrology.propagation import INDEPENDENT, BadModel, Factor, Function, Model, Term
from labsys.metrology.propagation import Correlation as Matrix
from labsys.metrology.propagation import Input as Known
from labsys.metrology.simulation.budgets import density_of
from labsys.metrology.simulation.model import Correlation, Input, MeasurementModel

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Drawn = Mapping[str, NDArray[np.float64]]

_NAMES: Final[Mapping[Function, str]] = {Function.LN: "log"}
"""Functions that numpy knows by another name."""


def model_of_terms(
    model: Model, inputs: Sequence[Known], correlation: Matrix = INDEPENDENT
) -> MeasurementModel:
    """Make the sum of terms a function of drawn inputs, each spread about its estimate as its component says.

    Raises BadModel where ``inputs`` aren't those of the model, TooLittleFreedomToDraw, InputsUnclear,
    ImpossibleCorrelation (correlated inputs have to be normal, with infinite ν).
    """
    names = [one.name for one in inputs]
    if set(names) != set(model.inputs):
        raise BadModel(expected=f"the inputs {', '.join(model.inputs)}", found=", ".join(names) or "none")
    drawn = tuple(Input(one.name, density_of(one.component, one.estimate)) for one in inputs)
    ties = tuple(
        Correlation(a, b, correlation.r(a, b))
        for place, a in enumerate(names)
        for b in names[place + 1 :]
        if correlation.r(a, b) != 0
    )
    return MeasurementModel(lambda block: _value(model.terms, block), drawn, ties)


def _value(terms: Sequence[Term], block: Drawn) -> NDArray[np.float64]:
    import numpy as np

    value = np.zeros_like(next(iter(block.values())))
    for term in terms:
        product: NDArray[np.float64] | float = term.coefficient
        for factor in term.factors:
            product = product * _factor(factor, block)
        value += product
    return value


def _factor(factor: Factor, block: Drawn) -> NDArray[np.float64]:
    import numpy as np

    found = block[factor.input]
    if factor.function is not Function.IDENTITY:
        found = getattr(np, _NAMES.get(factor.function, factor.function.value))(found)
    powered: NDArray[np.float64] = found if factor.power == 1 else found**factor.power
    return powered
