"""Typed text becomes a reading, or is refused by name."""

from __future__ import annotations

import pickle
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.errors import LabError
from labsys.metrology.exact import NotANumber
from labsys.metrology.readings import (
    FinerThanKept,
    LengthOutOfRange,
    MoreDigitsThanShown,
    ParsedReading,
    WrongUnit,
    parse_reading,
)
from labsys.metrology.units import Unit

STEP = Decimal("0.01")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("25.40", "25.40"),
        ("25,40", "25.40"),
        (" +25.4 ", "25.4"),
        ("-0.01", "-0.01"),
        ("\u22120.01", "-0.01"),
        ("- 0.01", "-0.01"),
        (".5", "0.5"),
        ("5.", "5"),
        ("25.40mm", "25.40"),
        ("25.40 MM", "25.40"),
        ("+0012.34 mm\r\n", "12.34"),
    ],
)
def test_what_gauges_and_people_send(text: str, value: str) -> None:
    parsed = parse_reading(text, unit=Unit.MM, step=STEP)
    assert parsed == ParsedReading(Decimal(value), Unit.MM, Decimal(value))


@pytest.mark.parametrize("suffix", ["", "in", " IN", '"', "\u2033", "inch"])
def test_inches_are_kept_as_typed_and_exactly_in_millimetres(suffix: str) -> None:
    parsed = parse_reading("5.9995" + suffix, unit=Unit.IN, step=Decimal("0.0005"))
    assert (parsed.value, parsed.value_mm) == (Decimal("5.9995"), Decimal("152.3873"))


@pytest.mark.parametrize("suffix", ["um", "\u00b5m", "\u03bcm"])
def test_both_signs_for_micro_are_understood(suffix: str) -> None:
    assert parse_reading(f"12.5 {suffix}", unit=Unit.UM, step=None).value_mm == Decimal("0.0125")


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "abc",
        "1e3",
        "1_000",
        "1,234.5",
        "1 234",
        "--1",
        "+",
        ".",
        "NaN",
        "inf",
        "12.3.4",
        "٣",
        "1" * 65,
    ],
)
def test_what_is_no_number(text: str) -> None:
    with pytest.raises(NotANumber):
        parse_reading(text, unit=Unit.MM, step=STEP)


@pytest.mark.parametrize(
    ("text", "unit"), [("1.00 in", Unit.MM), ("25.40 mm", Unit.IN), ("1.00 cm", Unit.MM)]
)
def test_a_unit_that_disagrees_with_the_gauge(text: str, unit: Unit) -> None:
    with pytest.raises(WrongUnit) as refusal:
        parse_reading(text, unit=unit, step=STEP)
    assert refusal.value.data["expected"] == unit.value


def test_more_digits_than_the_gauge_shows() -> None:
    with pytest.raises(MoreDigitsThanShown, match="at most 2 decimals"):
        parse_reading("25.401", unit=Unit.MM, step=Decimal("0.010000000"))
    assert parse_reading("25.401", unit=Unit.MM, step=None).value_mm == Decimal("25.401")


def test_lengths_that_cannot_be_kept() -> None:
    assert parse_reading("999999.999999999", unit=Unit.MM, step=None).value_mm == Decimal("999999.999999999")
    with pytest.raises(LengthOutOfRange):
        parse_reading("1000000", unit=Unit.MM, step=None)
    with pytest.raises(LengthOutOfRange):
        parse_reading("40000", unit=Unit.IN, step=None)
    with pytest.raises(FinerThanKept):
        parse_reading("0.0000000001", unit=Unit.MM, step=None)
    with pytest.raises(FinerThanKept):
        parse_reading("0.000000001", unit=Unit.IN, step=None)
    assert parse_reading("0.50000000000000000000", unit=Unit.MM, step=None).value_mm == Decimal("0.5")


@given(st.text(max_size=80))
def test_any_text_is_a_reading_or_a_named_refusal(text: str) -> None:
    try:
        parsed = parse_reading(text, unit=Unit.MM, step=None)
    except LabError as refusal:
        assert isinstance(refusal, ValueError)
        assert str(refusal).startswith("Expected")
    else:
        assert parsed.value_mm.is_finite()


@given(st.decimals(-9999, 9999, places=4), st.sampled_from([Unit.MM, Unit.IN]))
def test_what_is_printed_reads_back(value: Decimal, unit: Unit) -> None:
    # -0.0000 is a number people can type; it is the same length as zero.
    assert parse_reading(f"{value:f} {unit.value}", unit=unit, step=Decimal("0.0001")).value == value


def test_a_refusal_survives_the_way_between_processes() -> None:
    refusal = WrongUnit(expected="mm", found="in")
    again = pickle.loads(pickle.dumps(refusal))
    assert (type(again), str(again), again.data) == (WrongUnit, str(refusal), refusal.data)
