"""Angles and temperatures: exact factors, a general units library beside them, what is refused."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labsys.errors import LabError
from labsys.metrology.angles import PI, AngleUnit, AngleUnreadable, convert_angle, parse_angle, sexagesimal
from labsys.metrology.exact import NotANumber
from labsys.metrology.temperatures import (
    BelowAbsoluteZero,
    TemperatureUnit,
    convert_temperature,
    convert_temperature_difference,
)

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry()
ANGLES = dict(
    zip(AngleUnit, ("degree", "arcminute", "arcsecond", "radian", "milliradian", "microradian"), strict=True)
)
DEGREES = dict(zip(TemperatureUnit, ("degC", "degF", "kelvin"), strict=True))
VALUES = st.decimals(-400, 400, places=5)


@settings(max_examples=60)
@given(VALUES, st.sampled_from(AngleUnit), st.sampled_from(AngleUnit))
def test_angles_agree_with_a_general_units_library(value: Decimal, unit: AngleUnit, to: AngleUnit) -> None:
    oracle = REGISTRY.Quantity(float(value), ANGLES[unit]).to(ANGLES[to]).magnitude
    assert float(convert_angle(value, unit, to)) == pytest.approx(oracle, rel=1e-12, abs=1e-300)


@settings(max_examples=60)
@given(VALUES.map(lambda one: one + 500), st.sampled_from(TemperatureUnit), st.sampled_from(TemperatureUnit))
def test_temperatures_agree_with_a_general_units_library(
    value: Decimal, unit: TemperatureUnit, to: TemperatureUnit
) -> None:
    oracle = REGISTRY.Quantity(float(value), DEGREES[unit]).to(DEGREES[to]).magnitude
    assert float(convert_temperature(value, unit, to)) == pytest.approx(oracle, rel=1e-9, abs=1e-9)
    assert convert_temperature(Decimal(0), unit, unit) == 0
    difference = convert_temperature(value + 1, unit, to) - convert_temperature(value, unit, to)
    assert convert_temperature_difference(Decimal(1), unit, to) == difference


def test_fixed_points() -> None:
    # NIST SP 811, B.8 (from memory): 0 °C is 32 °F and 273.15 K; −40 is the same on both scales.
    fixed = [
        ("0", "32", "273.15"),
        ("20", "68", "293.15"),
        ("-40", "-40", "233.15"),
        ("-273.15", "-459.67", "0"),
    ]
    for celsius, fahrenheit, kelvin in fixed:
        for unit, value in zip(TemperatureUnit, (celsius, fahrenheit, kelvin), strict=True):
            for to, expected in zip(TemperatureUnit, (celsius, fahrenheit, kelvin), strict=True):
                assert convert_temperature(Decimal(value), unit, to) == Fraction(expected)


def test_below_absolute_zero_there_is_nothing() -> None:
    for value, unit in (("-273.16", "°C"), ("-459.68", "°F"), ("-0.01", "K")):
        with pytest.raises(BelowAbsoluteZero):
            convert_temperature(Decimal(value), TemperatureUnit(unit), TemperatureUnit.KELVIN)
    # A difference may be negative by any amount.
    assert (
        convert_temperature_difference(Decimal(-900), TemperatureUnit.FAHRENHEIT, TemperatureUnit.KELVIN)
        == -500
    )


def test_pi_is_pi() -> None:
    # Machin: π/4 = 4·arctan(1/5) − arctan(1/239), by its series in exact fractions.
    def arctan(inverse: int) -> Fraction:
        return sum(
            (Fraction((-1) ** n, (2 * n + 1) * inverse ** (2 * n + 1)) for n in range(50)), Fraction(0)
        )

    assert abs(Fraction(PI) - 4 * (4 * arctan(5) - arctan(239))) < Fraction(1, 10**61)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("12°30′15″", Fraction(12) + Fraction(30, 60) + Fraction(15, 3600)),
        ("12° 30' 15.5\"", Fraction(12) + Fraction(30, 60) + Fraction(31, 7200)),
        ("12°30'15,5''", Fraction(12) + Fraction(30, 60) + Fraction(31, 7200)),
        ("-0°30′", Fraction(-1, 2)),
        ("− 0°00′30″", Fraction(-1, 120)),
        ("+12.5°", Fraction(25, 2)),
        ("45″", Fraction(45, 3600)),
        ("90′", Fraction(3, 2)),
        ('720"', Fraction(1, 5)),
        ("12 deg 30 min", Fraction(25, 2)),
        ("1°0′0″\r\n", Fraction(1)),
        ("007°05′", Fraction(7) + Fraction(5, 60)),
    ],
)
def test_what_people_type_as_an_angle(text: str, degrees: Fraction) -> None:
    assert parse_angle(text) == degrees


@pytest.mark.parametrize(
    "text",
    [
        "",
        "12",
        "12°60′",
        "12°30′60″",
        "12.5°30′",
        "12°-30′",
        "30′12°",
        "°",
        "1e2°",
        "12°30",
        "--1°",
        "٣°",
        "9" * 70,
    ],
)
def test_what_is_no_angle(text: str) -> None:
    with pytest.raises(AngleUnreadable):
        parse_angle(text)


def test_an_angle_keeps_to_the_step_of_its_display() -> None:
    assert parse_angle("1°05′", step_seconds=Decimal(300)) == Fraction(65, 60)  # a vernier of 5′
    with pytest.raises(AngleUnreadable, match="step of 300″"):
        parse_angle("1°04′", step_seconds=Decimal(300))
    for bad in ("0", "-1", "NaN"):
        with pytest.raises(NotANumber):
            parse_angle("1°", step_seconds=Decimal(bad))


def test_rounding_carries_into_minutes_and_degrees() -> None:
    almost = Fraction(30) - Fraction(1, 10**7)
    assert str(sexagesimal(almost, decimals=1)) == "30°00′0.0″"
    assert str(sexagesimal(-almost, decimals=4)) == "−29°59′59.9996″"
    assert str(sexagesimal(Fraction(-1, 10**9), decimals=0)) == "0°00′0″"


@settings(max_examples=60)
@given(st.fractions(-360, 360, max_denominator=3600 * 1000))
def test_what_is_written_reads_back(degrees: Fraction) -> None:
    written = sexagesimal(degrees, decimals=6)
    assert abs(parse_angle(str(written)) - degrees) <= Fraction(1, 2 * 3600 * 10**6)


@settings(max_examples=60)
@given(st.text(alphabet="0123456789°′″'\".,+-− degmin", max_size=20))
def test_any_text_is_an_angle_or_a_named_refusal(text: str) -> None:
    try:
        assert math.isfinite(parse_angle(text))
    except LabError as refusal:
        assert isinstance(refusal, AngleUnreadable)


def test_numbers_that_are_none() -> None:
    with pytest.raises(NotANumber):
        convert_angle(Decimal("NaN"), AngleUnit.DEGREE, AngleUnit.RADIAN)
    with pytest.raises(NotANumber):
        convert_temperature(Decimal("Infinity"), TemperatureUnit.KELVIN, TemperatureUnit.CELSIUS)
    with pytest.raises(NotANumber):
        convert_temperature_difference(Decimal("NaN"), TemperatureUnit.KELVIN, TemperatureUnit.CELSIUS)
