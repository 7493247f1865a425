"""Units and their exact conversion."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.exact import NotANumber, exponent_of, plain
from labsys.metrology.units import Unit, decimals_shown, from_mm, to_mm

LENGTHS = st.decimals(-9999, 9999, places=9)


def test_an_inch_is_exactly_25_point_4_millimetres() -> None:
    # International inch of 1959: 1 in = 25.4 mm exactly.
    assert to_mm(Decimal(1), Unit.IN) == Decimal("25.4")
    assert to_mm(Decimal("0.0005"), Unit.IN) == Decimal("0.0127")
    assert to_mm(Decimal("6.510"), Unit.IN) == Decimal("165.354")


@pytest.mark.parametrize("unit", list(Unit))
def test_factors_agree_with_a_general_units_library(unit: Unit) -> None:
    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
    lengths = {Unit.MM: "millimeter", Unit.IN: "inch", Unit.UM: "micrometer", Unit.UIN: "microinch"}
    angles = {Unit.DEG: "degree", Unit.ARCMIN: "arcminute", Unit.ARCSEC: "arcsecond"}
    names = {**lengths, **angles}
    base = names[unit.quantity.base]
    found = registry.Quantity(Fraction(1), names[unit]).to(base).magnitude
    # The library takes a degree through radians, so its factors of angles are as good as its floats.
    assert (
        found == unit.factor_mm if unit in lengths else float(found) == pytest.approx(float(unit.factor_mm))
    )


@given(LENGTHS, st.sampled_from(Unit))
def test_there_and_back_loses_nothing(value: Decimal, unit: Unit) -> None:
    assert from_mm(to_mm(value, unit), unit) == value


def test_a_quotient_that_does_not_end_is_rounded_once() -> None:
    # 1 mm = 5/127 in = 0.03937007874015748…
    assert from_mm(Decimal(1), Unit.IN) == Decimal("0.039370078740")
    assert from_mm(Decimal(1), Unit.IN, decimals=4) == Decimal("0.0394")
    assert from_mm(Decimal("0.0127"), Unit.IN) == Decimal("0.0005")
    # A tie goes to the even digit: 0.00127 mm is 0.00005 in exactly.
    assert from_mm(Decimal("0.00127"), Unit.IN, decimals=4) == Decimal("0.0000")


@pytest.mark.parametrize("bad", ["NaN", "Infinity", "-Infinity"])
def test_what_is_no_number_is_refused(bad: str) -> None:
    with pytest.raises(NotANumber):
        to_mm(Decimal(bad), Unit.IN)
    with pytest.raises(NotANumber):
        from_mm(Decimal(bad), Unit.IN)
    with pytest.raises(NotANumber):
        decimals_shown(Decimal(bad))


@pytest.mark.parametrize(
    ("step", "decimals"), [("0.01", 2), ("0.0005", 4), ("0.010000000", 2), ("1", 0), ("10", 0), ("0.5", 1)]
)
def test_decimals_a_step_shows(step: str, decimals: int) -> None:
    assert decimals_shown(Decimal(step)) == decimals


@pytest.mark.parametrize("step", ["0", "-0.01"])
def test_a_step_is_above_zero(step: str) -> None:
    with pytest.raises(NotANumber):
        decimals_shown(Decimal(step))


def test_plain_numbers_have_no_powers_of_ten() -> None:
    assert str(plain(Decimal("1E+2"))) == "100"
    assert str(plain(Decimal("0.0100"))) == "0.01"
    assert exponent_of(Decimal("0.010")) == -3
