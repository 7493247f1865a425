"""The few units of length and of angle the trade reads and their exact conversion.

Lives here: exact fractions of the base unit, mm for lengths and the arc second for angles. May not live here: how
typed text becomes a reading (readings.py), how an angle is typed and written (angles.py).
"""

from __future__ import annotations

from decimal import Decimal, localcontext
from enum import StrEnum
from fractions import Fraction

from labsys.metrology.exact import EXACT, NotANumber, exponent_of, finite, plain


class Quantity(StrEnum):
    """What is measured. Fields and columns ending in ``_mm`` hold its base unit: mm, or for angles the arc second.

    An arc minute is 60″ and a hundredth of a degree 36″, so that what a protractor shows is whole in arc seconds.
    """

    LENGTH = "length"
    ANGLE = "angle"

    @property
    def base(self) -> Unit:
        """Give the unit that is stored and judged in."""
        return Unit.ARCSEC if self is Quantity.ANGLE else Unit.MM

    @property
    def fine(self) -> Unit:
        """Give the unit that certificates of standards state deviations and U in."""
        return Unit.ARCSEC if self is Quantity.ANGLE else Unit.UM

    @property
    def units(self) -> tuple[Unit, ...]:
        """List its units."""
        return tuple(unit for unit in Unit if unit.quantity is self)


class Unit(StrEnum):
    """A unit that readings are typed in; the base unit of its quantity is the one that is stored.

    ``ARCMIN`` is also how a vernier of degrees and minutes is read: typed and shown as 45° 05′, its errors in minutes.
    """

    MM = "mm"
    IN = "in"
    UM = "µm"
    UIN = "µin"
    DEG = "°"
    ARCMIN = "′"
    ARCSEC = "″"

    @property
    def quantity(self) -> Quantity:
        """Say what it measures."""
        return Quantity.ANGLE if self in (Unit.DEG, Unit.ARCMIN, Unit.ARCSEC) else Quantity.LENGTH

    @property
    def gap(self) -> str:
        """Give what stands between a number and the unit in a sentence: nothing before °, ′ and ″."""
        return "" if self.quantity is Quantity.ANGLE else " "

    @property
    def factor_mm(self) -> Fraction:
        """Give how many of the base unit are in one of this, exact.

        Millimetres for a length, 1 in = 25.4 mm (international inch of 1959); arc seconds for an angle, 1° = 60′ =
        3600″ (ISO 80000-3).
        """
        return _FACTORS[self]


_FACTORS = {
    Unit.MM: Fraction(1),
    Unit.IN: Fraction(127, 5),
    Unit.UM: Fraction(1, 1000),
    Unit.UIN: Fraction(127, 5_000_000),
    Unit.DEG: Fraction(3600),
    Unit.ARCMIN: Fraction(60),
    Unit.ARCSEC: Fraction(1),
}


def to_mm(value: Decimal, unit: Unit) -> Decimal:
    """Convert ``value`` in ``unit`` to its base unit (mm, arc seconds), exactly; raises NotANumber."""
    factor = unit.factor_mm
    with localcontext(EXACT):
        return finite(value) * factor.numerator / factor.denominator


def from_mm(value_mm: Decimal, unit: Unit, *, decimals: int | None = None) -> Decimal:
    """Convert ``value_mm`` (mm, or arc seconds for a unit of angle) to ``unit``.

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
