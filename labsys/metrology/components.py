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
    """How the input is spread. ``product``: a second-order term of two inputs, given by its standard uncertainty."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
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
    Distribution.PRODUCT: 1.0,
}


@dataclass(frozen=True, slots=True)
class Component:
    """One input quantity of the measurement and what it adds.

    ``size`` is the half-width of a rectangular or triangular distribution, otherwise a standard uncertainty, or
    an expanded one with its k as ``divisor``; in ``size_unit``. ``sensitivity`` is ∂result/∂input in mm per
    ``size_unit``, with its sign. ``nu`` are degrees of freedom (infinite allowed). Components with the same
    ``group`` and the same sign of sensitivity are fully correlated (r = 1); all others are independent.
    Divisors √3 and √6: JCGM 100:2008, 4.3.7 and 4.3.9.
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

    def __post_init__(self) -> None:
        """Refuse what can't be combined, before it can spoil a sum."""
        self._expect(math.isfinite(self.size) and self.size >= 0, "a size of zero or more", self.size)
        self._expect(math.isfinite(self.sensitivity), "a finite sensitivity", self.sensitivity)
        self._expect(self.nu >= 1, "at least one degree of freedom", self.nu)
        divisor = self.divided_by
        self._expect(math.isfinite(divisor) and divisor > 0, "a divisor above zero", divisor)

    @property
    def divided_by(self) -> float:
        """Give the number that turns ``size`` into a standard uncertainty."""
        return _DIVISORS[self.distribution] if self.divisor is None else self.divisor

    @property
    def standard_uncertainty(self) -> float:
        """Give u(x) of the input, in ``size_unit``."""
        return self.size / self.divided_by

    @property
    def contribution_mm(self) -> float:
        """Give |c|·u(x), in mm."""
        return abs(self.sensitivity) * self.standard_uncertainty

    def _expect(self, holds: bool, expected: str, found: float) -> None:
        if not holds:
            raise BadComponent(name=self.name, expected=expected, found=found)
