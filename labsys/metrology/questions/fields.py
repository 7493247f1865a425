"""Reading the fields of a question: each knows its place in the file, so that a refusal can name it.

Lives here: the shapes every kind of question is made of. May not live here: any kind of question.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from enum import StrEnum
from typing import Any, Final, TypeVar

from labsys.errors import LabError
from labsys.metrology.exact import NotANumber
from labsys.metrology.readings import parse_reading
from labsys.metrology.units import Quantity, Unit

Choice = TypeVar("Choice", bound=StrEnum)
MOST_SHOWN: Final = 60
LEAST_POWER, MOST_POWER = -300, 300
"""Powers of ten of numbers that can be asked about; beyond, floats overflow and exact digits fill the memory."""
_MISSING: Final[Any] = object()


class QuestionUnreadable(LabError, ValueError):
    """A question whose form is wrong at a place."""

    code = "question-unreadable"
    sentence = "At {place}: expected {expected}, found {found}."


def refuse(place: str, expected: str, found: object) -> QuestionUnreadable:
    """Make the refusal for a place; what was found is shown as it would stand in the file, shortened."""
    shown = "nothing" if found is _MISSING else repr(str(found) if isinstance(found, Decimal) else found)
    return QuestionUnreadable(place=place, expected=expected, found=shown[:MOST_SHOWN])


class Fields:
    """One object of a question, read field by field.

    Every reader takes a default for where the field may be left out; without one it must be there. ``finish`` refuses
    what nobody asked for, so that a misspelt field can't be passed over in silence.
    """

    def __init__(self, found: object, place: str) -> None:
        if not isinstance(found, Mapping):
            raise refuse(place, "an object with named fields", found)
        self.place = place
        self._found: Mapping[str, Any] = found
        self._asked: set[str] = set()

    def at(self, name: str) -> str:
        """Name the place of a field."""
        return f"{self.place}.{name}"

    def has(self, name: str) -> bool:
        """Say whether the field is there."""
        self._asked.add(name)
        return name in self._found

    def raw(self, name: str, default: Any = _MISSING) -> Any:
        """Read a field as it stands."""
        self._asked.add(name)
        found = self._found.get(name, default)
        if found is _MISSING:
            raise refuse(self.at(name), "a value", found)
        return found

    def text(self, name: str, default: Any = _MISSING) -> str:
        """Read a text."""
        found = self.raw(name, default)
        if not isinstance(found, str):
            raise refuse(self.at(name), "a text", found)
        return found

    def flag(self, name: str, default: Any = _MISSING) -> bool:
        """Read true or false."""
        found = self.raw(name, default)
        if not isinstance(found, bool):
            raise refuse(self.at(name), "true or false", found)
        return found

    def one_of(self, name: str, choices: type[Choice], default: Any = _MISSING) -> Choice:
        """Read one of the words of ``choices``."""
        found = self.raw(name, default)
        if found not in list(choices):
            raise refuse(self.at(name), "one of " + ", ".join(choices), found)
        return choices(found)

    def length_unit(self, name: str, default: Any = _MISSING) -> Unit:
        """Read one of the units of length."""
        found = self.raw(name, default)
        if found not in Quantity.LENGTH.units:
            raise refuse(self.at(name), "one of " + ", ".join(Quantity.LENGTH.units), found)
        return Unit(found)

    def decimal(self, name: str, default: Any = _MISSING) -> Decimal:
        """Read a finite number exactly as written, as a number or as a text."""
        return as_decimal(self.raw(name, default), self.at(name))

    def number(
        self,
        name: str,
        default: Any = _MISSING,
        *,
        at_least: float = -math.inf,
        above: float = -math.inf,
        at_most: float = math.inf,
        below: float = math.inf,
    ) -> float:
        """Read a finite number within bounds."""
        value = float(self.decimal(name, default))
        for holds, expected in (
            (value >= at_least, f"{at_least:g} or more"),
            (value > above, f"more than {above:g}"),
            (value <= at_most, f"{at_most:g} or less"),
            (value < below, f"less than {below:g}"),
        ):
            if not holds:
                raise refuse(self.at(name), expected, value)
        return value

    def probability(self, name: str, default: Any = _MISSING) -> float:
        """Read a probability, above 0 and below 1."""
        return self.number(name, default, above=0.0, below=1.0)

    def freedom(self, name: str, default: Any = "infinite") -> float:
        """Read degrees of freedom, of at least one; the text “infinite” says that there is no doubt."""
        if self.raw(name, default) == "infinite":
            return math.inf
        return self.number(name, at_least=1.0)

    def count(self, name: str, default: Any = _MISSING, *, at_least: int = 0) -> int:
        """Read a whole number."""
        value = self.decimal(name, default)
        if value != value.to_integral_value() or value < at_least:
            raise refuse(self.at(name), f"a whole number of {at_least} or more", value)
        return int(value)

    def length(self, name: str, default: Any = _MISSING) -> Decimal:
        """Read a length in mm, exactly: a number means mm, a text may carry its unit, as in “0.5 in” or “12 µm”."""
        return as_length(self.raw(name, default), self.at(name))

    def items(self, name: str, default: Any = _MISSING) -> list[Any]:
        """Read a list as it stands."""
        found = self.raw(name, default)
        if not isinstance(found, list):
            raise refuse(self.at(name), "a list", found)
        return found

    def numbers(self, name: str, default: Any = _MISSING) -> list[float]:
        """Read a list of finite numbers."""
        return [float(as_decimal(one, place)) for place, one in self._each(name, default)]

    def lengths(self, name: str, default: Any = _MISSING) -> list[Decimal]:
        """Read a list of lengths, in mm."""
        return [as_length(one, place) for place, one in self._each(name, default)]

    def texts(self, name: str, default: Any = _MISSING) -> list[str]:
        """Read a list of texts."""
        found = []
        for place, one in self._each(name, default):
            if not isinstance(one, str):
                raise refuse(place, "a text", one)
            found.append(one)
        return found

    def table(self, name: str, default: Any = _MISSING) -> list[list[float]]:
        """Read rows of finite numbers, all of one length."""
        rows: list[list[float]] = []
        for place, one in self._each(name, default):
            if not isinstance(one, list):
                raise refuse(place, "a list of numbers", one)
            rows.append([float(as_decimal(cell, f"{place}[{i}]")) for i, cell in enumerate(one)])
            if len(rows[-1]) != len(rows[0]):
                raise refuse(place, f"{len(rows[0])} numbers, as in the first row", one)
        return rows

    def object(self, name: str, default: Any = _MISSING) -> Fields:
        """Read an object."""
        return Fields(self.raw(name, default), self.at(name))

    def objects(self, name: str, default: Any = _MISSING) -> list[Fields]:
        """Read a list of objects."""
        return [Fields(one, place) for place, one in self._each(name, default)]

    def finish(self) -> None:
        """Refuse a field that nobody asked for."""
        for name in self._found:
            if name not in self._asked:
                near = get_close_matches(name, self._asked, n=1)
                meant = f"“{near[0]}” perhaps" if near else "one of " + ", ".join(sorted(self._asked))
                raise QuestionUnreadable(
                    place=self.place, expected=f"known fields only ({meant})", found=f"“{name}”"
                )

    def _each(self, name: str, default: Any) -> Iterator[tuple[str, Any]]:
        for index, one in enumerate(self.items(name, default)):
            yield f"{self.at(name)}[{index}]", one


def as_decimal(found: object, place: str) -> Decimal:
    """Take a number as it is written; raises QuestionUnreadable naming ``place``."""
    if isinstance(found, bool) or not isinstance(found, int | float | str | Decimal):
        raise refuse(place, "a number", found)
    try:
        value = found if isinstance(found, Decimal) else Decimal(str(found))
    except InvalidOperation:
        raise refuse(place, "a number", found) from None
    if not value.is_finite():
        raise refuse(place, "a finite number", found)
    if value and not LEAST_POWER < value.adjusted() < MOST_POWER:
        raise refuse(place, f"a number between 1e{LEAST_POWER} and 1e{MOST_POWER}", found)
    return value


def as_length(found: object, place: str) -> Decimal:
    """Take a length in mm; raises QuestionUnreadable naming ``place``."""
    if not isinstance(found, str):
        return as_decimal(found, place)
    number = found.strip()
    unit = Unit.MM
    for one in Quantity.LENGTH.units:
        if number.endswith(one.value):
            unit = one
    try:
        return parse_reading(number, unit=unit, step=None).value_mm
    except (NotANumber, ValueError) as fault:
        expected = "a length in whole picometres, such as 25.4, “25.4 mm” or “1 in”"
        raise refuse(place, expected, found) from fault
