"""The few units of length the trade reads and their exact conversion.

Lives here: exact fractions of the millimetre. May not live here: how typed text becomes a reading (readings.py).
"""

from __future__ import annotations

from decimal import Decimal, localcontext
from enum import StrEnum
from fractions import Fraction

from labsys.metrology.exact import EXACT, NotANumber, exponent_of, finite, plain


class Unit(StrEnum):
    """A unit of length that readings are typed in; ``mm`` is the one that is stored."""

    MM = "mm"
    IN = "in"
    UM = "µm"
    UIN = "µin"

    @property
    def factor_mm(self) -> Fraction:
        """Millimetres in one of this unit, exact; 1 in = 25.4 mm (international inch of 1959)."""
        return _FACTORS[self]


_FACTORS = {
    Unit.MM: Fraction(1),
    Unit.IN: Fraction(127, 5),
    Unit.UM: Fraction(1, 1000),
    Unit.UIN: Fraction(127, 5_000_000),
}


def to_mm(value: Decimal, unit: Unit) -> Decimal:
    """Convert ``value`` in ``unit`` to mm, exactly; raises NotANumber for NaN and infinities."""
    factor = unit.factor_mm
    with localcontext(EXACT):
        return finite(value) * factor.numerator / factor.denominator


def from_mm(value_mm: Decimal, unit: Unit, *, decimals: int | None = None) -> Decimal:
    """Convert ``value_mm`` to ``unit``.

    With ``decimals`` the quotient is rounded once, half to even; without, it is exact where it ends within
    twelve decimals of the unit (0.0127 mm is 0.0005 in) and rounded there where it doesn't. Raises NotANumber
    for NaN and infinities.
    """
    quotient = Fraction(finite(value_mm)) / unit.factor_mm
    places = 12 if decimals is None else decimals
    with localcontext(EXACT):
        scaled = Decimal(round(quotient * Fraction(10) ** places)).scaleb(-places)
        return scaled if decimals is not None else plain(scaled)


def decimals_shown(step: Decimal) -> int:
    """Count the decimals that a display with this ``step`` shows: 0.01 → 2, 0.0005 → 4, 0.010000000 → 2, 1 → 0.

    Raises NotANumber for a step that is none.
    """
    if finite(step) <= 0:
        raise NotANumber(found=str(step))
    return max(0, -exponent_of(plain(step)))
