"""The inputs of a model: an estimate with its uncertainty, given, from readings, or from a budget's components.

Lives here: what is known of one input, and of several read together. May not live here: the model.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from labsys.errors import LabError
from labsys.metrology.components import BadComponent, Component, Distribution
from labsys.metrology.propagation.correlation import Correlation, of_pairs
from labsys.metrology.propagation.model import Model, linear


class TooFewReadings(LabError, ValueError):
    """Fewer than two readings, of different number, or all alike where their spread is needed."""

    code = "too-few-readings"
    sentence = "Readings of “{name}”: expected {expected}, found {found}. Take more readings."


@dataclass(frozen=True, slots=True)
class Input:
    """An estimate and the ``component`` that says how well it is known, in the unit of the estimate.

    The component's sensitivity stays 1 and its group empty: the model and the correlation say that. Raises
    BadComponent.
    """

    component: Component
    estimate: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what would count twice or not at all."""
        name, sensitivity = self.name, self.component.sensitivity
        if not math.isfinite(self.estimate):
            raise BadComponent(name=name, expected="a finite estimate", found=self.estimate)
        if sensitivity != 1:
            raise BadComponent(name=name, expected="no sensitivity beside the model's", found=sensitivity)
        if self.component.group is not None:
            raise BadComponent(name=name, expected="no group", found=self.component.group)

    @property
    def name(self) -> str:
        """Give the name the model knows it by."""
        return self.component.name

    @property
    def u(self) -> float:
        """Give the standard uncertainty."""
        return self.component.standard_uncertainty

    @property
    def nu(self) -> float:
        """Give the degrees of freedom."""
        return self.component.nu


def mean_of_readings(name: str, readings: Sequence[float], *, source: str = "") -> Input:
    """Take the mean with u = s/√n and ν = n − 1 (JCGM 100:2008, 4.2.3); raises TooFewReadings, BadComponent."""
    _expect_readings(name, readings)
    u = statistics.stdev(readings) / math.sqrt(len(readings))
    component = Component(name, u, Distribution.NORMAL, nu=len(readings) - 1.0, source=source)
    return Input(component, statistics.mean(readings))


def correlation_of_readings(readings: Mapping[str, Sequence[float]]) -> Correlation:
    """Give the correlation of means that were read together, the n-th readings at the same time.

    JCGM 100:2008, 5.2.3 and H.2.2. Raises TooFewReadings, also where all readings of an input are alike.
    """
    numbers = {name: len(each) for name, each in readings.items()}
    if len(set(numbers.values())) > 1:
        raise TooFewReadings(
            name=", ".join(numbers), expected="as many of each", found=list(numbers.values())
        )
    for name, each in readings.items():
        _expect_readings(name, each)
        if max(each) == min(each):
            raise TooFewReadings(name=name, expected="readings that differ", found="all alike")
    pairs = {(a, b): statistics.correlation(readings[a], readings[b]) for a, b in combinations(readings, 2)}
    return of_pairs(pairs)


def of_components(components: Sequence[Component]) -> tuple[Model, tuple[Input, ...], Correlation]:
    """Take a budget's components as a linear model: r = 1 within a group and sign, as ``combine`` adds.

    Inputs are named by number and name, since a budget may name two components alike.
    """
    named = {f"{number} {one.name}": one for number, one in enumerate(components, start=1)}
    inputs = tuple(Input(_alone(name, one)) for name, one in named.items())
    pairs = {
        (a, b): 1.0
        for (a, one), (b, other) in combinations(named.items(), 2)
        if one.group is not None
        and one.group == other.group
        and (one.sensitivity < 0) == (other.sensitivity < 0)
    }
    return linear({name: one.sensitivity for name, one in named.items()}), inputs, of_pairs(pairs)


def _alone(name: str, one: Component) -> Component:
    return Component(
        name,
        one.size,
        one.distribution,
        one.size_unit,
        nu=one.nu,
        source=one.source,
        divisor=one.divisor,
        beta=one.beta,
    )


def _expect_readings(name: str, readings: Sequence[float]) -> None:
    if len(readings) < 2:
        raise TooFewReadings(name=name, expected="at least two", found=len(readings))
    if not all(math.isfinite(one) for one in readings):
        raise TooFewReadings(name=name, expected="finite numbers", found=list(readings))
