"""Densities between limits, which may be in doubt themselves.

Lives here: one input alone (JCGM 101:2008, 6.4.2 to 6.4.6). May not live here: correlation (model.py, drawing.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, TypeAlias

from labsys.metrology.simulation.densities import Fixed, Normal, Student, expect, stretched

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class Form(StrEnum):
    """How an input is spread between its limits."""

    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    TRAPEZOIDAL = "trapezoidal"
    ARCSINE = "arcsine"


@dataclass(frozen=True, slots=True)
class Between:
    """Symmetric between two limits (JCGM 101:2008, 6.4.2 to 6.4.6).

    ``beta`` is the ratio of the top to the base of a trapezoid (0 a triangle, 1 a rectangle). ``doubt`` is how far
    either limit may be off, both moving apart or together: the half-width then lies anywhere within ± ``doubt`` of
    the one given. A rectangle with doubt is the curvilinear trapezoid of 6.4.3.
    """

    low: float
    high: float
    form: Form = Form.RECTANGULAR
    beta: float | None = None
    doubt: float = 0.0

    def __post_init__(self) -> None:
        """Refuse limits that cross, a β outside 0 to 1, a doubt beyond the half-width; raises BadDensity."""
        finite = math.isfinite(self.low) and math.isfinite(self.high) and math.isfinite(self.high - self.low)
        limits = f"{self.low} and {self.high}"
        expect(finite and self.low <= self.high, "a lower limit not above the upper", self.form, limits)
        has_beta = self.form is Form.TRAPEZOIDAL
        expected = "a β from 0 to 1" if has_beta else "no β"
        holds = (self.beta is not None and 0 <= self.beta <= 1) if has_beta else self.beta is None
        expect(holds, expected, self.form, self.beta)
        within = 0 <= self.doubt <= self.half_width
        expect(within, f"a doubt of the limits from 0 to {self.half_width:g}", self.form, self.doubt)

    @property
    def half_width(self) -> float:
        """Give half the distance between the limits."""
        return (self.high - self.low) / 2

    @property
    def mean(self) -> float:
        """Give the middle."""
        return self.low + self.half_width

    @property
    def standard_deviation(self) -> float:
        """Give √((h² + d²/3)·v), v the variance of the form between −1 and 1 (1/3, 1/6, (1 + β²)/6, 1/2)."""
        squared = {
            Form.RECTANGULAR: 1 / 3,
            Form.TRIANGULAR: 1 / 6,
            Form.TRAPEZOIDAL: (1 + (self.beta or 0.0) ** 2) / 6,
            Form.ARCSINE: 1 / 2,
        }
        return math.hypot(self.half_width, self.doubt / math.sqrt(3)) * math.sqrt(squared[self.form])

    def draw(self, rng: np.random.Generator, count: int) -> NDArray[np.float64]:
        """Draw ``count`` values."""
        unit = _unit_draws(self.form, self.beta or 0.0, rng, count)
        if self.doubt:
            unit *= stretched(rng.random(count), 2 * self.doubt, self.half_width - self.doubt)
            unit += self.mean
            return unit
        return stretched(unit, self.half_width, self.mean)


Density: TypeAlias = Fixed | Normal | Student | Between


def _unit_draws(form: Form, beta: float, rng: np.random.Generator, count: int) -> NDArray[np.float64]:
    """Draw between −1 and 1, by the recipes of 6.4.2.4, 6.4.4.4, 6.4.5.4 and 6.4.6.4."""
    import numpy as np

    draws = rng.random(count)
    if form is Form.ARCSINE:
        draws *= 2 * math.pi
        return np.sin(draws, out=draws)
    if form is not Form.RECTANGULAR:
        draws = (draws * (1 + beta) + rng.random(count) * (1 - beta)) / 2
    draws *= 2
    draws -= 1
    return draws
