"""One component of an uncertainty budget: its size, distribution, sensitivity and degrees of freedom.

Lives here: the component alone, in the terms of the GUM. May not live here: where it comes from (specs),
adding up (budget.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from labsys.errors import LabError


class Distribution(StrEnum):
    """How the input is spread.

    ``arcsine`` (U-shaped) is what a sine-like swing gives. ``student`` is the t-distribution of few readings, given by
    its scale, with ν. ``product``: a second-order term of two inputs, given by its standard uncertainty.
    """

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    TRAPEZOIDAL = "trapezoidal"
    ARCSINE = "arcsine"
    STUDENT = "student"
    PRODUCT = "product"


class BadComponent(LabError, ValueError):
    """A component that can't be combined: not finite, negative, or with less than one degree of freedom."""

    code = "bad-component"
    sentence = (
        "Component “{name}”: expected {expected}, found {found}. Correct it in the budget of the procedure."
    )


_DIVISORS = {
    Distribution.NORMAL: 1.0,
    Distribution.RECTANGULAR: math.sqrt(3.0),
    Distribution.TRIANGULAR: math.sqrt(6.0),
    Distribution.ARCSINE: math.sqrt(2.0),
    # The scale is s/√n itself, its doubt is in ν; a simulation draws t with this scale (JCGM 101:2008, 6.4.9).
    Distribution.STUDENT: 1.0,
    Distribution.PRODUCT: 1.0,
}


@dataclass(frozen=True, slots=True)
class Component:
    """One input quantity of the measurement and what it adds.

    ``size`` is the half-width of a rectangular, triangular, trapezoidal or arcsine distribution, otherwise a
    standard uncertainty, or an expanded one with its k as ``divisor``; in ``size_unit``. ``sensitivity`` is
    ∂result/∂input in mm per ``size_unit``, with its sign. ``nu`` are degrees of freedom (infinite allowed).
    Components with the same ``group`` and the same sign of sensitivity are fully correlated (r = 1); all others are
    independent. ``beta`` is a trapezoid's top divided by its base (0 the triangle, 1 the rectangle) and belongs to no
    other shape.
    Divisors √3, √6 and √(6/(1 + β²)): JCGM 100:2008, 4.3.7 and 4.3.9; √2: JCGM 101:2008, 6.4.6.
    """

    name: str
    size: float
    distribution: Distribution = Distribution.RECTANGULAR
    size_unit: str = "mm"
    sensitivity: float = 1.0
    nu: float = math.inf
    source: str = ""
    group: str | None = None
    divisor: float | None = None
    beta: float | None = None

    def __post_init__(self) -> None:
        """Refuse what can't be combined, before it can spoil a sum."""
        self._expect(math.isfinite(self.size) and self.size >= 0, "a size of zero or more", self.size)
        self._expect(math.isfinite(self.sensitivity), "a finite sensitivity", self.sensitivity)
        self._expect(self.nu >= 1, "at least one degree of freedom", self.nu)
        self._expect_beta()
        divisor = self.divided_by
        self._expect(math.isfinite(divisor) and divisor > 0, "a divisor above zero", divisor)

    @property
    def divided_by(self) -> float:
        """Give the number that turns ``size`` into a standard uncertainty."""
        if self.divisor is not None:
            return self.divisor
        return _DIVISORS[self.distribution] if self.beta is None else math.sqrt(6 / (1 + self.beta**2))

    @property
    def standard_uncertainty(self) -> float:
        """Give u(x) of the input, in ``size_unit``."""
        return self.size / self.divided_by

    @property
    def contribution_mm(self) -> float:
        """Give |c|·u(x), in mm."""
        return abs(self.sensitivity) * self.standard_uncertainty

    def _expect_beta(self) -> None:
        is_trapezoid = self.distribution is Distribution.TRAPEZOIDAL
        if is_trapezoid or self.beta is not None:
            within = self.beta is not None and 0 <= self.beta <= 1
            self._expect(
                is_trapezoid and within, "β from 0 to 1 for a trapezoid, and none otherwise", self.beta
            )

    def _expect(self, holds: bool, expected: str, found: float | None) -> None:
        if not holds:
            raise BadComponent(name=self.name, expected=expected, found=found)
