"""``rounding``: an error and its expanded uncertainty as they are printed.

Fields:
    error: the error of indication, a length (mm)
    U: its expanded uncertainty, a length (mm)
    digits: significant digits of U, 1 or 2 (2)
    rounding: which way a tie goes, half_even or half_up (half_even)
    unit: the unit to print in: mm, in, µm or µin (mm)

Answers:
    error, U: as printed, both to the same decimal place, in unit
    unit: as asked
    text: both as one text
"""

from __future__ import annotations

from typing import Literal

from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse
from labsys.metrology.reporting import Rounding, report
from labsys.metrology.units import Unit


def answer(fields: Fields) -> Answer:
    """Round U to one or two digits and the error to the same place; raises QuestionUnreadable, NothingToReport."""
    error, U = fields.length("error"), fields.length("U")
    digits = _digits(fields)
    found = report(
        error,
        U,
        digits=digits,
        rounding=fields.one_of("rounding", Rounding, Rounding.HALF_EVEN),
        unit=fields.one_of("unit", Unit, Unit.MM),
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


def _digits(fields: Fields) -> Literal[1, 2]:
    found = fields.count("digits", 2)
    if found == 1:
        return 1
    if found == 2:
        return 2
    raise refuse(fields.at("digits"), "1 or 2", found)
