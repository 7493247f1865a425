"""The model of a measurement as a sum of terms, each a coefficient times powers of its inputs or functions of them.

Lives here: the model, its value and its derivatives. May not live here: uncertainties; there's no formula language.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations_with_replacement, product

from labsys.errors import LabError
from labsys.metrology.propagation.jets import CONSTANT, Function, Jet, jet_of, multiply


class BadModel(LabError, ValueError):
    """A model without terms, with a coefficient that is no number, or whose inputs are not those given."""

    code = "bad-model"
    sentence = "Model: expected {expected}, found {found}. Correct the model or the list of inputs."


@dataclass(frozen=True, slots=True)
class Factor:
    """``function`` of the input named, to a ``power``."""

    input: str
    power: float = 1.0
    function: Function = Function.IDENTITY


@dataclass(frozen=True, slots=True)
class Term:
    """``coefficient`` times its factors; without factors a constant."""

    coefficient: float
    factors: tuple[Factor, ...] = ()

    def __post_init__(self) -> None:
        """Refuse coefficients and powers that are no numbers."""
        for value in (self.coefficient, *(factor.power for factor in self.factors)):
            if not math.isfinite(value):
                raise BadModel(expected="finite coefficients and powers", found=value)


@dataclass(frozen=True, slots=True)
class Slopes:
    """Value and derivatives at the estimates; what is missing is zero.

    ``second[a, b]`` is ∂²f/∂a∂b, with a and b in the order of the model's inputs; ``third[a, b]`` is ∂³f/∂a∂b²
    for any two inputs in either order.
    """

    value: float
    first: Mapping[str, float]
    second: Mapping[tuple[str, str], float]
    third: Mapping[tuple[str, str], float]


@dataclass(frozen=True, slots=True)
class Model:
    """y = Σ terms."""

    terms: tuple[Term, ...]

    def __post_init__(self) -> None:
        """Refuse a model of nothing."""
        if not self.inputs:
            raise BadModel(expected="at least one term with an input", found="none")

    @property
    def inputs(self) -> tuple[str, ...]:
        """Name the inputs in the order in which they first appear."""
        return tuple(dict.fromkeys(factor.input for term in self.terms for factor in term.factors))

    def slopes(self, estimates: Mapping[str, float]) -> Slopes:
        """Work out value and derivatives at the ``estimates`` (by name, all inputs of the model).

        Raises OutsideDomain, and BadModel where an estimate is missing or a sum leaves the numbers.
        """
        parts: dict[tuple[str, ...], list[float]] = defaultdict(list)
        for term in self.terms:
            for by, slope in _slopes_of(term, estimates).items():
                parts[by].append(slope)
        sums = {by: _sum(slopes) for by, slopes in parts.items()}
        order = {name: place for place, name in enumerate(self.inputs)}
        second: dict[tuple[str, str], float] = defaultdict(float)
        for by, slope in sums.items():
            if len(by) == 2:
                a, b = sorted(by, key=order.__getitem__)
                second[a, b] += slope
        return Slopes(
            value=sums[()],
            first={by[0]: slope for by, slope in sums.items() if len(by) == 1},
            second=dict(second),
            third={(by[0], by[1]): slope for by, slope in sums.items() if len(by) == 3},
        )


def linear(sensitivities: Mapping[str, float], *, constant: float = 0.0) -> Model:
    """Make y = constant + Σ cᵢ·xᵢ out of sensitivities by input."""
    return Model((Term(constant), *(Term(c, (Factor(name),)) for name, c in sensitivities.items())))


def power_product(coefficient: float, powers: Mapping[str, float]) -> Model:
    """Make y = c·Π xᵢ^pᵢ (JCGM 100:2008, 5.1.6)."""
    return Model((Term(coefficient, tuple(Factor(name, power) for name, power in powers.items())),))


def _slopes_of(term: Term, estimates: Mapping[str, float]) -> dict[tuple[str, ...], float]:
    """Give the derivatives of one term by the inputs they are taken by: (), (a), (a, b), (a, b, b)."""
    jets: dict[str, Jet] = {}
    for factor in term.factors:
        if factor.input not in estimates:
            raise BadModel(expected=f"an input named “{factor.input}”", found="none")
        jet = jet_of(factor.function, factor.power, estimates[factor.input])
        jets[factor.input] = multiply(jets.get(factor.input, CONSTANT), jet)
    wanted: list[tuple[str, ...]] = [(), *((name,) for name in jets)]
    wanted += combinations_with_replacement(jets, 2)
    wanted += [(a, b, b) for a, b in product(jets, repeat=2)]
    return {
        by: term.coefficient * math.prod(jet[by.count(name)] for name, jet in jets.items()) for by in wanted
    }


def _sum(slopes: list[float]) -> float:
    try:
        found = math.fsum(slopes)
    except (OverflowError, ValueError):
        found = math.nan
    if not math.isfinite(found):
        raise BadModel(expected="a value and derivatives that are numbers", found="an overflow")
    return found
