"""Temperatures and temperature differences in degrees Celsius, degrees Fahrenheit and kelvins, exactly.

Lives here: the two conversions, which are not the same. May not live here: what a temperature does to a length.
"""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from labsys.errors import LabError
from labsys.metrology.exact import finite


class BelowAbsoluteZero(LabError, ValueError):
    """A temperature that can't be."""

    code = "below-absolute-zero"
    sentence = "Expected a temperature above −273.15 °C, found {found}. Correct the value or its unit."


class TemperatureUnit(StrEnum):
    """A unit of temperature or of its difference."""

    CELSIUS = "°C"
    FAHRENHEIT = "°F"
    KELVIN = "K"

    @property
    def factor_k(self) -> Fraction:
        """Kelvins in a difference of one of this unit, exact: 1 °F is 5/9 K."""
        return Fraction(5, 9) if self is TemperatureUnit.FAHRENHEIT else Fraction(1)

    @property
    def zero_k(self) -> Fraction:
        """Kelvins at its zero, exact: 0 °C is 273.15 K, 0 °F is 459.67·5/9 K (ISO 80000-5; NIST SP 811, B.8)."""
        return _ZEROS[self]


_ZEROS = {
    TemperatureUnit.CELSIUS: Fraction("273.15"),
    TemperatureUnit.FAHRENHEIT: Fraction("459.67") * Fraction(5, 9),
    TemperatureUnit.KELVIN: Fraction(0),
}


def convert_temperature(value: Decimal, unit: TemperatureUnit, to: TemperatureUnit) -> Fraction:
    """Convert a temperature exactly; raises BelowAbsoluteZero, NotANumber for NaN and infinities."""
    kelvins = Fraction(finite(value)) * unit.factor_k + unit.zero_k
    if kelvins < 0:
        raise BelowAbsoluteZero(found=f"{value:f} {unit.value}")
    return (kelvins - to.zero_k) / to.factor_k


def convert_temperature_difference(value: Decimal, unit: TemperatureUnit, to: TemperatureUnit) -> Fraction:
    """Convert a difference of temperatures (or an uncertainty of one) exactly: the zeros don't come in.

    Raises NotANumber for NaN and infinities.
    """
    return Fraction(finite(value)) * unit.factor_k / to.factor_k
