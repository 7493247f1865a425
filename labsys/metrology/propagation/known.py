"""A model at its estimates: slopes, what each input moves the result by, and how that adds up.

Lives here: what first and second order both stand on. May not live here: the law of propagation (propagate.py).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from labsys.errors import LabError
from labsys.metrology.propagation.correlation import Correlation
from labsys.metrology.propagation.inputs import Input
from labsys.metrology.propagation.model import BadModel, Model, Slopes

CANCELLED = 1e-14
"""A sum this small beside the sizes it is made of is what rounding left of zero."""


class OutOfNumbers(LabError, ValueError):
    """A contribution or sum that is too large for a number, or a variance that comes out negative."""

    code = "out-of-numbers"
    sentence = "Expected a finite variance above zero, found {found}. Correct the sizes, or simulate."


@dataclass(frozen=True, slots=True)
class Known:
    """The inputs by name in the model's order, the model's slopes there, the correlation.

    ``scale`` is the largest single effect, of first or second order; ``moved`` is c·u(x) of each input relative to it,
    so that no square leaves the numbers.
    """

    inputs: Mapping[str, Input]
    slopes: Slopes
    correlation: Correlation
    scale: float
    moved: Mapping[str, float]

    @property
    def covariances(self) -> dict[tuple[str, str], float]:
        """Give c(a)·u(a)·c(b)·u(b)·r(a, b) of all pairs both ways, relative."""
        return covariances(self.moved, self.moved, self.correlation)


def know(model: Model, inputs: Sequence[Input], correlation: Correlation) -> Known:
    """Bring model and inputs together; raises BadModel where they don't fit, OutsideDomain, OutOfNumbers."""
    given = {one.name: one for one in inputs}
    if len(given) != len(inputs):
        raise BadModel(expected="inputs of different names", found=", ".join(one.name for one in inputs))
    _expect_among("an input for each name in the model", model.inputs, given)
    _expect_among("inputs that the model uses", given, model.inputs)
    _expect_among("correlations of the inputs given", correlation.names, given)
    slopes = model.slopes({name: one.estimate for name, one in given.items()})
    known = {name: given[name] for name in model.inputs}
    effects = {name: slopes.first[name] * one.u for name, one in known.items()}
    bends = [slope * known[a].u * known[b].u for (a, b), slope in slopes.second.items()]
    scale = max(abs(one) for one in (*effects.values(), *bends)) or 1.0
    if not math.isfinite(scale):
        raise OutOfNumbers(found=scale)
    return Known(known, slopes, correlation, scale, {name: one / scale for name, one in effects.items()})


def covariances(
    left: Mapping[str, float], right: Mapping[str, float], correlation: Correlation
) -> dict[tuple[str, str], float]:
    """Give left(a)·right(b)·r(a, b) of all pairs."""
    return {(a, b): left[a] * right[b] * correlation.r(a, b) for a in left for b in right}


def total(squares: Iterable[float]) -> float:
    """Add covariances up; what rounding left of a sum that cancels is zero."""
    each = list(squares)
    found = math.fsum(each)
    return 0.0 if abs(found) <= CANCELLED * math.fsum(abs(one) for one in each) else found


def _expect_among(expected: str, names: Iterable[str], among: Iterable[str]) -> None:
    for name in names:
        if name not in among:
            raise BadModel(expected=expected, found=f"“{name}”")
