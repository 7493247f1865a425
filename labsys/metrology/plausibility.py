"""Readings that are numbers but look odd: questions to a person, never refusals.

Lives here: what is asked before a reading counts. May not live here: what can't be read at all (readings.py), verdicts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction

from labsys.errors import LabError
from labsys.metrology.angle_readings import angle_text
from labsys.metrology.angle_slips import slips
from labsys.metrology.exact import EXACT, plain
from labsys.metrology.readings import ParsedReading
from labsys.metrology.units import Quantity, Unit

NEAR_MM = Decimal("0.5")
"""A reading this close to its reference is not asked about (common practice, no source)."""

_INCH = Unit.IN.factor_mm


class NoRaster(LabError, ValueError):
    """A step, number of parts or turn that makes no raster."""

    code = "no-raster"
    sentence = "Expected {what} above zero, found {found}. Correct the gauge's model."


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to ask: a stable code and the sentence."""

    code: str
    sentence: str


def implausibilities(
    parsed: ParsedReading,
    *,
    step: Decimal | None,
    expected_mm: Decimal | None,
    readable_parts: int = 1,
    turn_mm: Decimal | None = None,
    near_mm: Decimal = NEAR_MM,
) -> tuple[Question, ...]:
    """List what is odd about a reading.

    ``step`` is the gauge's step in the unit of the reading, read to ``readable_parts`` of it; ``expected_mm``
    the reference length, ``turn_mm`` the lead of a spindle or one turn of a pointer. Asked: no multiple of what
    can be read; further than ``near_mm`` from what is expected (a quarter turn where that is less) and 25.4
    times too large or small, or whole turns off. An angle is asked about as ``slips`` says. Raises NoRaster.
    """
    questions: list[Question] = []
    if step is not None:
        questions += _off_the_raster(parsed, step, readable_parts)
    if parsed.unit.quantity is Quantity.ANGLE:
        found = () if expected_mm is None else slips(parsed.value_mm, expected_mm)
        return *questions, *(Question(code, sentence) for code, sentence in found)
    if expected_mm is not None:
        near = near_mm if turn_mm is None else min(near_mm, _above_zero("a turn", turn_mm) / 4)
        if abs(parsed.value_mm - expected_mm) > near:
            questions += _inch_for_mm(parsed.value_mm, expected_mm, near)
            questions += _whole_turns(parsed.value_mm - expected_mm, turn_mm, near)
    return tuple(questions)


def _off_the_raster(parsed: ParsedReading, step: Decimal, readable_parts: int) -> Iterator[Question]:
    if readable_parts < 1:
        raise NoRaster(what="readable parts", found=readable_parts)
    raster = Fraction(_above_zero("a step", step)) / readable_parts
    if Fraction(parsed.value) % raster:
        with localcontext(EXACT):
            shown = f"{plain(round(step / readable_parts, 9)):f}"
        yield Question(
            "no-multiple-of-the-step",
            f"{_as_typed(parsed)} is no multiple of {shown}{parsed.unit.gap}{parsed.unit.value}. Does the gauge show "
            f"exactly this?",
        )


def _as_typed(parsed: ParsedReading) -> str:
    is_angle = parsed.unit.quantity is Quantity.ANGLE
    return angle_text(parsed.value_mm, parsed.unit) if is_angle else f"{parsed.value:f}"


def _inch_for_mm(value_mm: Decimal, expected_mm: Decimal, near_mm: Decimal) -> Iterator[Question]:
    value, expected, near = Fraction(value_mm), Fraction(expected_mm), Fraction(near_mm)
    if abs(value * _INCH - expected) <= near and value:
        yield Question("factor-of-25.4", "This is 25.4 times too small. Does the gauge show inches?")
    elif abs(value / _INCH - expected) <= near and value:
        yield Question("factor-of-25.4", "This is 25.4 times too large. Does the gauge show millimetres?")


def _whole_turns(difference_mm: Decimal, turn_mm: Decimal | None, near_mm: Decimal) -> Iterator[Question]:
    if turn_mm is None:
        return
    turns = round(Fraction(difference_mm) / Fraction(turn_mm))
    if turns and abs(Fraction(difference_mm) - turns * Fraction(turn_mm)) <= Fraction(near_mm):
        count = abs(turns)
        yield Question(
            "whole-turns",
            f"This is {count} turn{'s' if count > 1 else ''} off what is expected. Was the scale read to the "
            f"right line?",
        )


def _above_zero(what: str, value: Decimal) -> Decimal:
    if not (value.is_finite() and value > 0):
        raise NoRaster(what=what, found=value)
    return value
