"""Odd readings are asked about, plausible ones are not."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.plausibility import NoRaster, implausibilities
from labsys.metrology.readings import parse_reading
from labsys.metrology.units import Unit


def asked(
    text: str,
    *,
    unit: Unit = Unit.MM,
    step: str | None = None,
    expected: str | None = None,
    parts: int = 1,
    turn: str | None = None,
) -> list[str]:
    found = implausibilities(
        parse_reading(text, unit=unit, step=None),
        step=None if step is None else Decimal(step),
        expected_mm=None if expected is None else Decimal(expected),
        readable_parts=parts,
        turn_mm=None if turn is None else Decimal(turn),
    )
    return [question.code for question in found]


@pytest.mark.parametrize(
    ("text", "unit", "step", "parts", "is_odd"),
    [
        ("1.0005", Unit.IN, "0.0005", 1, False),
        ("1.0003", Unit.IN, "0.0005", 1, True),
        ("-0.0005", Unit.IN, "0.0005", 1, False),
        ("41.32", Unit.MM, "0.05", 1, True),
        ("41.35", Unit.MM, "0.05", 1, False),
        ("41.324", Unit.MM, "0.02", 5, False),
        ("41.325", Unit.MM, "0.02", 5, True),
        # A third of a division has no end in decimals; only whole divisions can be typed exactly.
        ("0.01", Unit.MM, "0.01", 3, False),
    ],
)
def test_readings_are_multiples_of_what_can_be_read(
    text: str, unit: Unit, step: str, parts: int, is_odd: bool
) -> None:
    assert asked(text, unit=unit, step=step, parts=parts) == (["no-multiple-of-the-step"] if is_odd else [])


@pytest.mark.parametrize(
    ("text", "unit", "expected", "questions"),
    [
        ("1.000", Unit.MM, "25.4", ["factor-of-25.4"]),
        ("0.9995", Unit.MM, "25.4", ["factor-of-25.4"]),
        ("25.40", Unit.IN, "25.4", ["factor-of-25.4"]),
        ("25.38", Unit.IN, "25.4", ["factor-of-25.4"]),
        ("25.38", Unit.MM, "25.4", []),
        ("0.9995", Unit.IN, "25.4", []),
        ("52.40", Unit.MM, "25.4", []),
        ("0", Unit.MM, "25.4", []),
        ("0.01", Unit.MM, "0", []),
    ],
)
def test_inches_taken_for_millimetres(text: str, unit: Unit, expected: str, questions: list[str]) -> None:
    assert asked(text, unit=unit, expected=expected) == questions


@pytest.mark.parametrize(
    ("text", "expected", "turn", "questions"),
    [
        ("10.003", "10", "0.5", []),
        ("10.503", "10", "0.5", ["whole-turns"]),
        ("9.002", "10", "0.5", ["whole-turns"]),
        ("10.30", "10", "0.5", []),
        ("12.54", "12.5", "2.54", []),
        ("15.04", "12.5", "2.54", ["whole-turns"]),
    ],
)
def test_whole_turns(text: str, expected: str, turn: str, questions: list[str]) -> None:
    assert asked(text, expected=expected, turn=turn) == questions


def test_the_sentences_ask() -> None:
    found = implausibilities(
        parse_reading("10.503", unit=Unit.MM, step=None),
        step=Decimal("0.01"),
        expected_mm=Decimal(10),
        turn_mm=Decimal("0.5"),
    )
    assert [one.sentence for one in found] == [
        "10.503 is no multiple of 0.01 mm. Does the gauge show exactly this?",
        "This is 1 turn off what is expected. Was the scale read to the right line?",
    ]


@given(st.integers(0, 30_000), st.integers(-3, 3))
def test_an_ordinary_reading_is_never_questioned(steps: int, off: int) -> None:
    reading = Decimal(steps + off) / 100
    text = f"{reading:f}"
    assert asked(text, step="0.01", expected=str(Decimal(steps) / 100)) == []


def test_rasters_that_are_none() -> None:
    with pytest.raises(NoRaster):
        asked("1", step="0")
    with pytest.raises(NoRaster):
        asked("1", step="0.01", parts=0)
    with pytest.raises(NoRaster):
        asked("1", expected="1", turn="-0.5")
