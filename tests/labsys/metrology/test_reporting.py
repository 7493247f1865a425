"""What is printed: published roundings, signs, the sentence about U."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.budget import combine
from labsys.metrology.components import Component, Distribution
from labsys.metrology.exact import NotANumber
from labsys.metrology.reporting import (
    NothingToReport,
    Rounding,
    format_signed,
    percent,
    report,
    round_to,
    round_uncertainty,
    uncertainty_sentence,
)
from labsys.metrology.units import Unit
from tests.labsys.metrology.published import case, entry


@pytest.mark.parametrize("row", case("rnd-1")["expected"], ids=lambda row: row["U_reported"])
def test_two_digits_and_the_same_place(row: dict[str, str]) -> None:
    found = report(Decimal(str(row["y"])), Decimal(str(row["U"])))
    assert (str(found.U), str(found.error)) == (row["U_reported"], row["y_reported"])


@pytest.mark.parametrize(
    ("quantity", "value", "rounding"),
    [
        ("12.25 to 0.1, rule A (half to even)", "12.25", Rounding.HALF_EVEN),
        ("12.35 to 0.1, rule A", "12.35", Rounding.HALF_EVEN),
        ("12.25 to 0.1, rule B (half up)", "12.25", Rounding.HALF_UP),
        ("12.223 to 0.1", "12.223", Rounding.HALF_EVEN),
        ("12.251 to 0.1", "12.251", Rounding.HALF_EVEN),
        ("12.275 to 0.1", "12.275", Rounding.HALF_EVEN),
    ],
)
def test_rounding_rules_of_iso_80000_1(quantity: str, value: str, rounding: Rounding) -> None:
    found = round_to(Decimal(value), place=-1, rounding=rounding)
    assert str(found) == entry("rounding", quantity)["printed"]


def test_rounding_examples_of_the_gum() -> None:
    up = round_uncertainty(Decimal("10.47"), always_up=True)
    assert str(up) == entry("rounding", "u_c 10.47 mohm rounded up")["printed"]
    ordinary = round_uncertainty(Decimal("28.05"))
    assert str(ordinary) == entry("rounding", "u 28.05 kHz rounded down (ordinary rounding)")["printed"]
    ohms = report(Decimal("10.05762"), Decimal("0.027"))
    assert str(ohms.error) == entry("rounding", "y 10.05762 ohm with u 27 mohm")["printed"]
    nanometres = report(Decimal("49.999926"), Decimal("0.00007279"))
    printed = entry("rounding", "l = 49.999926 mm, U = 72.79 nm reported")["printed"]
    assert (str(nanometres.error), nanometres.U * 10**6) == ("49.999926", Decimal(printed))


@pytest.mark.parametrize(
    ("U", "digits", "reported"),
    [
        # EA-4/02, the 5 % rule: 0.0149 to one digit would lose a third; 0.01049 to two digits loses 4.7 %.
        ("0.0149", 1, "0.02"),
        ("0.01049", 2, "0.010"),
        ("0.0593", 1, "0.06"),
        ("0.05", 1, "0.05"),
        ("0.0105", 1, "0.01"),
        ("0.01053", 1, "0.02"),
        ("0.096", 1, "0.1"),
        ("123", 2, "120"),
    ],
)
def test_rounding_down_may_lose_five_percent(U: str, digits: Literal[1, 2], reported: str) -> None:
    assert f"{round_uncertainty(Decimal(U), digits=digits):f}" == reported


@given(st.decimals("0.000000001", 1000, places=9), st.sampled_from([1, 2]))
def test_reported_uncertainty_is_never_much_too_small(U: Decimal, digits: Literal[1, 2]) -> None:
    found = round_uncertainty(U, digits=digits)
    assert found >= U * Decimal("0.95")
    assert found <= U * (2 if digits == 1 else Decimal("1.1"))
    assert len(found.normalize().as_tuple().digits) <= digits


def test_ea_4_02_s10_is_printed_with_one_digit() -> None:
    found = report(Decimal("0.10"), 0.0593, digits=1)
    assert found.text == "(+0.10 ± 0.06) mm"
    assert found.decimals == 2


def test_inches_are_rounded_in_inches() -> None:
    found = report(Decimal("-0.0127"), 0.0163, unit=Unit.IN)
    assert found.text == "(\u22120.00050 ± 0.00064) in"
    assert found.error_mm == Decimal("-0.0127")


@pytest.mark.parametrize(
    ("value", "decimals", "unit", "text"),
    [
        ("0.01", 2, Unit.MM, "+0.01"),
        ("-0.0127", 4, Unit.IN, "\u22120.0005"),
        ("0", 3, Unit.MM, "+0.000"),
        ("-0.0001", 2, Unit.MM, "+0.00"),
        ("-0.0127", 1, Unit.UM, "\u221212.7"),
        ("0.005", 2, Unit.MM, "+0.00"),
        ("0.015", 2, Unit.MM, "+0.02"),
    ],
)
def test_errors_always_show_their_sign(value: str, decimals: int, unit: Unit, text: str) -> None:
    assert format_signed(Decimal(value), decimals=decimals, unit=unit) == text


def test_half_up_is_chosen_by_name() -> None:
    assert format_signed(Decimal("0.005"), decimals=2, rounding=Rounding.HALF_UP) == "+0.01"
    assert format_signed(Decimal("-0.005"), decimals=2, rounding=Rounding.HALF_UP) == "\u22120.01"


@pytest.mark.parametrize("U", ["0", "-0.1"])
def test_an_uncertainty_of_nothing_is_not_reported(U: str) -> None:
    with pytest.raises(NothingToReport):
        report(Decimal(0), Decimal(U))


@pytest.mark.parametrize("bad", ["NaN", "Infinity"])
def test_what_is_no_number_is_not_reported(bad: str) -> None:
    with pytest.raises(NotANumber):
        report(Decimal(bad), 0.1)
    with pytest.raises(NotANumber):
        report(Decimal(0), Decimal(bad))


def test_the_sentence_names_k_shape_and_probability() -> None:
    few = combine([Component("s", 0.005, Distribution.NORMAL, nu=9)])
    assert "k = 2.32, which for a t-distribution with 9 effective degrees of freedom" in uncertainty_sentence(
        few
    )
    assert uncertainty_sentence(few).endswith("of about 95.45 %.")
    one = combine([Component("step", 0.005)], probability=0.95)
    assert "k = 1.65, which for a rectangular distribution" in uncertainty_sentence(one)
    assert uncertainty_sentence(one).endswith("of about 95 %.")
    two = combine([Component("step", 0.025), Component("jaws", 0.05)], probability=0.95)
    assert (
        "k = 1.83, which for a trapezoidal distribution with edge parameter β = 0.33"
        in uncertainty_sentence(two)
    )
    many = combine([Component("U", 0.001, Distribution.NORMAL, divisor=2)])
    assert "k = 2.00, which for a normal distribution" in uncertainty_sentence(many)


@pytest.mark.parametrize(("p", "text"), [(0.9545, "95.45 %"), (0.95, "95 %"), (0.9, "90 %"), (0.99, "99 %")])
def test_percent(p: float, text: str) -> None:
    assert percent(p) == text
