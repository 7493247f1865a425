"""``conversion``: a length, an angle or a temperature in another unit, exactly where it ends.

Fields:
    quantity: length, angle, temperature, temperature difference.
    value: a number in the unit “from”; for an angle in degrees also a text such as 12°30′15.5″.
    from, to: mm, in, µm, µin; °, ′, ″, rad, mrad, µrad; °C, °F, K.
    decimals: of the answer, 0 to 30, rounded once, half to even (twelve, without trailing zeros).
    seconds_decimals: of an angle's seconds where it is written in degrees, 0 to 12 (3).

Answers:
    value: in the unit “to”, as a text; unit; exact: true where nothing was rounded and π didn't come in.
    degrees_minutes_seconds: of an angle, rounded once, half to even.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation, localcontext
from enum import StrEnum
from fractions import Fraction

from labsys.metrology.angles import AngleUnit, convert_angle, parse_angle, sexagesimal
from labsys.metrology.exact import EXACT, plain
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse
from labsys.metrology.temperatures import (
    TemperatureUnit,
    convert_temperature,
    convert_temperature_difference,
)

MOST_DECIMALS = 12
LARGEST_EXPONENT = 30


class Quantity(StrEnum):
    """What is converted."""

    LENGTH = "length"
    ANGLE = "angle"
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature difference"


SOURCES = {
    Quantity.LENGTH: "ISO 80000-3; international inch of 1959: 1 in = 25.4 mm exactly",
    Quantity.ANGLE: "ISO 80000-3: 1° = 60′ = 3600″ = π/180 rad",
    Quantity.TEMPERATURE: "ISO 80000-5; NIST SP 811, B.8: K = °C + 273.15, °F = 9/5·°C + 32",
    Quantity.TEMPERATURE_DIFFERENCE: "ISO 80000-5; NIST SP 811, B.8: 1 K = 1 °C = 9/5 °F",
}


def answer(fields: Fields) -> Answer:
    """Convert exactly and round once; raises QuestionUnreadable, BelowAbsoluteZero, AngleUnreadable."""
    quantity = fields.one_of("quantity", Quantity)
    values, unit = _angle(fields) if quantity is Quantity.ANGLE else _other(fields, quantity)
    fields.finish()
    return Answer(values, (Step(f"by exact factors, in {unit}", values["value"]),), (SOURCES[quantity],))


def _angle(fields: Fields) -> tuple[dict[str, object], str]:
    unit = fields.one_of("from", AngleUnit, AngleUnit.DEGREE)
    to = fields.one_of("to", AngleUnit)
    given = fields.raw("value")
    is_written = isinstance(given, str) and unit is AngleUnit.DEGREE and not _is_number(given)
    angle = parse_angle(given) if is_written else Fraction(_decimal(fields))
    degrees = sexagesimal(
        convert_angle(angle, unit, AngleUnit.DEGREE),
        decimals=int(fields.number("seconds_decimals", 3, at_least=0, at_most=12)),
    )
    values = _values(fields, convert_angle(angle, unit, to), to)
    values["exact"] = values["exact"] and (unit.is_of_radians == to.is_of_radians or angle == 0)
    return {**values, "degrees_minutes_seconds": str(degrees)}, to.value


def _other(fields: Fields, quantity: Quantity) -> tuple[dict[str, object], str]:
    value = _decimal(fields)
    if quantity is Quantity.LENGTH:
        unit, into = fields.length_unit("from"), fields.length_unit("to")
        return _values(fields, Fraction(value) * unit.factor_mm / into.factor_mm, into), into.value
    convert = convert_temperature if quantity is Quantity.TEMPERATURE else convert_temperature_difference
    to = fields.one_of("to", TemperatureUnit)
    return _values(fields, convert(value, fields.one_of("from", TemperatureUnit), to), to), to.value


def _values(fields: Fields, found: Fraction, unit: StrEnum) -> dict[str, object]:
    decimals = int(fields.number("decimals", MOST_DECIMALS, at_least=0, at_most=30))
    with localcontext(EXACT):
        scaled = Decimal(round(found * 10**decimals)).scaleb(-decimals)
    value = scaled if fields.has("decimals") else plain(scaled)
    return {"value": value, "unit": unit, "exact": Fraction(value) == found}


def _decimal(fields: Fields) -> Decimal:
    value = fields.decimal("value")
    # A wide exponent would be written out digit by digit.
    if value and not -LARGEST_EXPONENT <= value.adjusted() <= LARGEST_EXPONENT:
        raise refuse(fields.at("value"), f"a number of at most {LARGEST_EXPONENT} digits", value)
    return value


def _is_number(text: str) -> bool:
    try:
        return Decimal(text).is_finite()
    except InvalidOperation:
        return False
