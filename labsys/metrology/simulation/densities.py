"""Densities without limits, and a value without doubt: each with mean, standard deviation and a way to draw from it.

Lives here: one input alone (JCGM 101:2008, 6.4.7 and 6.4.9). May not live here: densities between limits (bounded.py),
correlation (model.py, drawing.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labsys.errors import LabError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class BadDensity(LabError, ValueError):
    """A parameter of a density that no density has."""

    code = "bad-density"
    sentence = "Expected {expected} of a {density} input, found {found}. Correct the input."


class TooLittleFreedomToDraw(LabError, ValueError):
    """A Student input of two degrees of freedom or fewer, whose standard deviation is infinite."""

    code = "too-little-freedom-to-draw"
    sentence = (
        "Expected more than two degrees of freedom of a Student input, found {found}: with fewer its standard "
        "deviation is infinite. Take at least four readings or a pooled study."
    )


@dataclass(frozen=True, slots=True)
class Fixed:
    """A value without doubt."""

    value: float

    def __post_init__(self) -> None:
        """Refuse NaN and infinities; raises BadDensity."""
        expect(math.isfinite(self.value), "a finite value", "fixed", self.value)

    @property
    def mean(self) -> float:
        """Give the value."""
        return self.value

    @property
    def standard_deviation(self) -> float:
        """Give zero."""
        return 0.0

    def draw(self, rng: np.random.Generator, count: int) -> NDArray[np.float64]:
        """Repeat the value ``count`` times; nothing is taken from ``rng``."""
        import numpy as np

        return np.full(count, self.value)


@dataclass(frozen=True, slots=True)
class Normal:
    """Gaussian with this mean and standard deviation (JCGM 101:2008, 6.4.7)."""

    mean: float
    standard_deviation: float

    def __post_init__(self) -> None:
        """Refuse NaN, infinities and a negative standard deviation; raises BadDensity."""
        expect(math.isfinite(self.mean), "a finite mean", "normal", self.mean)
        sigma = self.standard_deviation
        expect(0 <= sigma < math.inf, "a standard deviation of zero or more", "normal", sigma)

    def draw(self, rng: np.random.Generator, count: int) -> NDArray[np.float64]:
        """Draw ``count`` values."""
        return stretched(rng.standard_normal(count), self.standard_deviation, self.mean)


@dataclass(frozen=True, slots=True)
class Student:
    """Scaled and shifted t with ``nu`` degrees of freedom (JCGM 101:2008, 6.4.9).

    ``scale`` is what a certificate or a series calls u (s/√n, U/k): it is **not** the standard deviation, which is
    larger, scale·√(ν/(ν − 2)).
    """

    location: float
    scale: float
    nu: float

    def __post_init__(self) -> None:
        """Refuse what can't be drawn from; raises BadDensity, TooLittleFreedomToDraw."""
        expect(math.isfinite(self.location), "a finite location", "Student", self.location)
        expect(0 <= self.scale < math.inf, "a scale of zero or more", "Student", self.scale)
        if not self.nu > 2:
            raise TooLittleFreedomToDraw(found=self.nu)

    @property
    def mean(self) -> float:
        """Give the location."""
        return self.location

    @property
    def standard_deviation(self) -> float:
        """Give scale·√(ν/(ν − 2)); the scale itself where ν is infinite."""
        return self.scale if math.isinf(self.nu) else self.scale * math.sqrt(self.nu / (self.nu - 2))

    def draw(self, rng: np.random.Generator, count: int) -> NDArray[np.float64]:
        """Draw ``count`` values."""
        if math.isinf(self.nu):
            return Normal(self.location, self.scale).draw(rng, count)
        return stretched(rng.standard_t(self.nu, count), self.scale, self.location)


def stretched(draws: NDArray[np.float64], scale: float, shift: float) -> NDArray[np.float64]:
    """Scale and shift ``draws`` in place: they are ours and large."""
    draws *= scale
    if shift:
        draws += shift
    return draws


def expect(holds: bool, expected: str, density: str, found: object) -> None:
    """Refuse a parameter unless it ``holds``; raises BadDensity."""
    if not holds:
        raise BadDensity(expected=expected, density=str(density), found=found)
