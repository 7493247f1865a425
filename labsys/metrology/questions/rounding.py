"""``rounding``: an error and its expanded uncertainty as they are printed, or any value to a place.

Fields:
    value, place: any number and the step it is rounded to, such as 0.1, in place of everything but rounding
    error: the error of indication, a length (mm)
    U: its expanded uncertainty, a length (mm)
    digits: significant digits of U, 1 or 2 (2)
    rounding: which way a tie goes, half_even or half_up (half_even)
    unit: the unit to print in: mm, in, µm or µin (mm)
    always_up: whether U is rounded up in any case, true or false (false)

Answers:
    value: as printed, where value was given; otherwise
    error, U: as printed, both to the same decimal place, in unit
    unit: as asked
    text: both as one text
"""

from __future__ import annotations

from typing import Literal

from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse
from labsys.metrology.reporting import Rounding, report, round_to
from labsys.metrology.units import Unit


def answer(fields: Fields) -> Answer:
    """Round U to one or two digits and the error to the same place; raises QuestionUnreadable, NothingToReport."""
    rounding = fields.one_of("rounding", Rounding, Rounding.HALF_EVEN)
    if fields.has("value"):
        return _value(fields, rounding)
    error, U = fields.length("error"), fields.length("U")
    digits = _digits(fields)
    found = report(
        error,
        U,
        digits=digits,
        rounding=rounding,
        unit=fields.length_unit("unit", Unit.MM),
        always_up=fields.flag("always_up", False),
    )
    fields.finish()
    return Answer(
        values={"error": found.error, "U": found.U, "unit": found.unit, "text": found.text},
        steps=(
            Step(f"U to {digits} significant digits, up where rounding down loses more than 5 %", found.U),
            Step("the error to the same decimal place", found.error),
        ),
        sources=("JCGM 100:2008, 7.2.6", "EA-4/02 M:2022, section 6", "ISO 80000-1, annex B"),
    )


def _value(fields: Fields, rounding: Rounding) -> Answer:
    value, step = fields.decimal("value"), fields.decimal("place")
    # A power of ten, however it is written: 0.1, 0.10, 1E+1.
    if step <= 0 or step.normalize().as_tuple().digits != (1,):
        raise refuse(fields.at("place"), "a power of ten such as 0.1", step)
    fields.finish()
    found = round_to(value, place=step.adjusted(), rounding=rounding)
    return Answer(
        {"value": found}, (Step(f"to {step}, {rounding}, in decimals", found),), ("ISO 80000-1, annex B",)
    )


def _digits(fields: Fields) -> Literal[1, 2]:
    found = fields.decimal("digits", 2)
    if found == 1:
        return 1
    if found == 2:
        return 2
    raise refuse(fields.at("digits"), "a whole number, 1 or 2", found)
