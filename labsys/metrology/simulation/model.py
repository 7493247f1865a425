"""What is simulated: a function of named inputs, their densities, and how normal ones are correlated.

Lives here: the model and its checks. May not live here: drawing (drawing.py), trials (trials.py).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from labsys.errors import LabError
from labsys.metrology.simulation.bounded import Density
from labsys.metrology.simulation.densities import Normal

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Function: TypeAlias = Callable[[Mapping[str, NDArray[np.float64]]], NDArray[np.float64]]


class InputsUnclear(LabError, ValueError):
    """No input at all, or two of one name."""

    code = "inputs-unclear"
    sentence = "Expected inputs of different names, found {found}. Give every input of the model once."


class ImpossibleCorrelation(LabError, ValueError):
    """A correlation that can't be drawn."""

    code = "impossible-correlation"
    sentence = "Correlation of “{first}” and “{second}”: expected {expected}, found {found}. Correct the correlation."


@dataclass(frozen=True, slots=True)
class Input:
    """An input quantity: its name in the model and its density."""

    name: str
    density: Density


@dataclass(frozen=True, slots=True)
class Correlation:
    """The coefficient ``r`` of two normal inputs, −1 to 1."""

    first: str
    second: str
    r: float


@dataclass(frozen=True, slots=True)
class MeasurementModel:
    """Y = f(X₁ … X_N) with the densities of its inputs (JCGM 101:2008, 5).

    ``function`` takes the inputs by name as arrays of one length and gives an array of that length. Correlated
    inputs are jointly normal (6.4.8); all others are independent. Raises InputsUnclear, ImpossibleCorrelation.
    """

    function: Function
    inputs: tuple[Input, ...]
    correlations: tuple[Correlation, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what can't be drawn."""
        names = [one.name for one in self.inputs]
        if not names or len(set(names)) < len(names):
            raise InputsUnclear(found=f"“{max(names, key=names.count)}” twice" if names else "none")
        seen: set[frozenset[str]] = set()
        for one in self.correlations:
            self._check(one, seen)
            seen.add(frozenset((one.first, one.second)))

    def _check(self, one: Correlation, seen: set[frozenset[str]]) -> None:
        pair = frozenset((one.first, one.second))
        normal = {each.name for each in self.inputs if isinstance(each.density, Normal)}
        checks = (
            (len(pair) == 2, "two different inputs", one.first),
            (pair <= normal, "normal inputs of the model", ", ".join(sorted(pair - normal))),
            (-1 <= one.r <= 1, "a coefficient from −1 to 1", one.r),
            (pair not in seen, "each pair once", "it again"),
        )
        for holds, expected, found in checks:
            if not holds:
                raise ImpossibleCorrelation(
                    first=one.first, second=one.second, expected=expected, found=found
                )
