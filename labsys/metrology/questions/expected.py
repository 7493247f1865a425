"""Comparing an answer with values that were printed somewhere, at the precision they were printed with.

Lives here: what counts as agreeing. May not live here: questions and their answers.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from labsys.metrology.questions.answers import Plain
from labsys.metrology.questions.fields import Fields, QuestionUnreadable, as_decimal, refuse


@dataclass(frozen=True, slots=True)
class Expected:
    """One value to be found: ``quantity`` is its path in the answer's values (``rows.2.share``).

    ``printed`` is a number as printed, a word, or true or false. A number agrees when it lies within ``within`` of the
    print: half a unit of its last digit where nothing else is said.
    """

    quantity: str
    printed: str | bool | None
    within: Decimal | None
    source: str


@dataclass(frozen=True, slots=True)
class Compared:
    """An expected value beside what was found."""

    expected: Expected
    found: Plain
    agrees: bool

    def to_json(self) -> dict[str, Plain]:
        """Give plain dicts, numbers and texts."""
        within = self.expected.within
        return {
            "quantity": self.expected.quantity,
            "printed": self.expected.printed,
            "within": None if within is None else f"{within:f}",
            "found": self.found,
            "agrees": self.agrees,
            "source": self.expected.source,
        }


def read_expected(fields: Fields) -> Expected:
    """Read one expected value; raises QuestionUnreadable."""
    quantity, source = fields.text("quantity"), fields.text("source", "")
    given = fields.raw("printed")
    number = _number(given)
    if number is None and not isinstance(given, str | bool | None):
        raise refuse(fields.at("printed"), "a number as printed, a word, true, false or null", given)
    within = None if number is None else _within(fields, number)
    fields.finish()
    printed = (
        f"{given}" if isinstance(given, int | float | Decimal) and not isinstance(given, bool) else given
    )
    return Expected(quantity, printed, within, source)


def compare(expected: Expected, values: Plain, place: str) -> Compared:
    """Look the quantity up and compare; raises QuestionUnreadable where the answer has no such value."""
    found = _look_up(values, expected.quantity, place)
    return Compared(expected, found, _agrees(expected, found))


def _agrees(expected: Expected, found: Plain) -> bool:
    if expected.within is None:
        return found == expected.printed and isinstance(found, bool) == isinstance(expected.printed, bool)
    number = _number(found)
    return number is not None and abs(number - as_decimal(expected.printed, "")) <= expected.within


def _within(fields: Fields, number: Decimal) -> Decimal:
    if fields.has("within_share"):
        return abs(number) * fields.decimal("within_share")
    if fields.has("within"):
        return fields.decimal("within")
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)  # finite
    # A print may be truncated or rounded either way at a tie; the last bit of a float must not decide that.
    return Decimal("0.5000001").scaleb(exponent)


def _number(found: Any) -> Decimal | None:
    try:
        return as_decimal(found, "")
    except QuestionUnreadable:
        return None


def _look_up(values: Plain, path: str, place: str) -> Plain:
    here: Plain = values
    for name in path.split("."):
        if isinstance(here, dict) and name in here:
            here = here[name]
        elif isinstance(here, list) and name.isdigit() and int(name) < len(here):
            here = here[int(name)]
        else:
            raise refuse(place, f"a quantity of the answer ({_known(here)})", path)
    return here


def _known(here: Plain) -> str:
    if isinstance(here, dict):
        return ", ".join(here)
    return f"items 0 to {len(here) - 1}" if isinstance(here, list) and here else "nothing further"
