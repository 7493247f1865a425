"""What a cable sends becomes a reading, or is refused by name."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labsys.errors import LabError
from labsys.metrology.exact import NotANumber
from labsys.metrology.readings import MoreDigitsThanShown, WrongUnit
from labsys.metrology.transmissions import NotOneReading, UnknownHeader, parse_transmission
from labsys.metrology.units import Unit


@pytest.mark.parametrize(
    ("sent", "value"),
    [
        ("+0012.345\r", "12.345"),
        ("\r\n-12,345\r\n\r\n", "-12.345"),
        ("+  12.345 mm\n", "12.345"),
        ("-   0.010\r\n", "-0.010"),
        ("   12.345MM   ", "12.345"),
        ("\t12.3\t", "12.3"),
        # Forms NR1, NR2 and NR3 of IEEE 488.2 (from memory).
        ("+12", "12"),
        ("+12.345", "12.345"),
        ("+1.2345E+01", "12.345"),
        ("-1.23450000E+01", "-12.345"),
        ("12345E-3 mm", "12.345"),
    ],
)
def test_what_cables_send(sent: str, value: str) -> None:
    assert parse_transmission(sent, unit=Unit.MM, step=Decimal("0.001")).value == Decimal(value)


def test_inches_keep_their_unit() -> None:
    found = parse_transmission("+0.50000in\r\n", unit=Unit.IN, step=Decimal("0.00005"))
    assert (found.unit, found.value_mm) == (Unit.IN, Decimal("12.7"))
    with pytest.raises(WrongUnit):
        parse_transmission("+0.50000in\r\n", unit=Unit.MM, step=None)


@pytest.mark.parametrize("sent", ["", "\r\n", "12.345\r\n12.346\r\n", "1" * 300])
def test_one_reading_at_a_time(sent: str) -> None:
    with pytest.raises(NotOneReading):
        parse_transmission(sent, unit=Unit.MM, step=None)


@pytest.mark.parametrize(
    ("sent", "header"),
    [("XY+12.345", "XY"), ("A12: 12.3", "A12"), ("VAL= -1", "VAL"), ("#1 12.3", "#1"), ("E+01", "E")],
)
def test_what_stands_in_front_is_not_guessed_at(sent: str, header: str) -> None:
    with pytest.raises(UnknownHeader) as refusal:
        parse_transmission(sent, unit=Unit.MM, step=None)
    assert refusal.value.data["found"] == header


@pytest.mark.parametrize(
    "sent", ["\x0212.345\x03", "12.3\x00", "1.2.3E+01", ".E+01", "1E+01E+01", "ERR", "+-12"]
)
def test_what_is_no_number(sent: str) -> None:
    with pytest.raises(NotANumber):
        parse_transmission(sent, unit=Unit.MM, step=None)


def test_an_exponent_brings_no_digits_the_display_has_not() -> None:
    with pytest.raises(MoreDigitsThanShown):
        parse_transmission("1.23456E+01", unit=Unit.MM, step=Decimal("0.001"))


@settings(max_examples=80)
@given(st.text(alphabet="0123456789+-.,E mM\r\n\x00XΩ", max_size=24))
def test_anything_is_a_reading_or_a_named_refusal(sent: str) -> None:
    try:
        assert parse_transmission(sent, unit=Unit.MM, step=None).value_mm.is_finite()
    except LabError as refusal:
        assert isinstance(refusal, ValueError)
