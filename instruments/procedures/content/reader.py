"""Reading JSON whose place is always known, so that a fault can be named: ``looks[2].caution``.

Lives here: the walk and the plain types. May not live here: what a procedure holds (parsing.py).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, ClassVar, TypeVar

from labsys.errors import LabError
from labsys.metrology.angle_readings import enter_angle, is_marked
from labsys.metrology.units import Unit

T = TypeVar("T")
LONGEST_TEXT = 2000
MOST_ITEMS = 200
_CODE = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_DECIMAL = re.compile(r"[+\-]?[0-9]+(\.[0-9]+)?")
_MISSING = object()


class ContentFault(LabError, ValueError):
    """A place of a procedure's content that holds something else than it may."""

    code: ClassVar[str] = "procedure-content"
    field: ClassVar[str | None] = "content"
    sentence: ClassVar[str] = (
        "The content of the procedure, at {place}: expected {expected}, found {found}. Correct it there."
    )


@dataclass(frozen=True, slots=True)
class Reader:
    """One value of the content and the place it stands at; the whole content stands at ``""``.

    ``is_angle``: the content is of angles, so a number may stand with its mark, 15° or 2.5′, and is read in arc
    seconds.
    """

    value: Any
    place: str = ""
    is_angle: bool = False

    def fault(self, expected: str, found: Any = _MISSING) -> ContentFault:
        """Make the error that names this place."""
        shown = _shown(self.value if found is _MISSING else found)
        return ContentFault(place=self.place or "the top", expected=expected, found=shown)

    def fields(self, required: Sequence[str], optional: Sequence[str] = ()) -> Mapping[str, Reader]:
        """Read an object with exactly these fields; those left out of ``optional`` are not in the answer."""
        if not isinstance(self.value, Mapping):
            raise self.fault("an object")
        for name in sorted(set(self.value) - set(required) - set(optional)):
            known = ", ".join((*required, *optional))
            raise self.at(name).fault(f"one of the fields {known}", "an unknown field")
        for name in required:
            if name not in self.value:
                raise self.at(name).fault("a value", "nothing")
        return {name: self.at(name) for name in (*required, *optional) if name in self.value}

    def at(self, name: str) -> Reader:
        """Step into a field of an object."""
        value = self.value.get(name) if isinstance(self.value, Mapping) else None
        return Reader(value, f"{self.place}.{name}" if self.place else name, self.is_angle)

    def items(self, *, least: int = 0) -> list[Reader]:
        """Read a list, each item with its place."""
        if not isinstance(self.value, list | tuple):
            raise self.fault("a list")
        if not least <= len(self.value) <= MOST_ITEMS:
            raise self.fault(f"a list of {least} to {MOST_ITEMS} items", f"{len(self.value)}")
        return [
            Reader(item, f"{self.place}[{index}]", self.is_angle) for index, item in enumerate(self.value)
        ]

    def list_of(self, read: Callable[[Reader], T], *, least: int = 0) -> tuple[T, ...]:
        """Read a list, every item by ``read``."""
        return tuple(read(item) for item in self.items(least=least))

    def text(self, *, empty: bool = False) -> str:
        """Read a text without surrounding blanks; an empty one only where ``empty`` allows it."""
        if not isinstance(self.value, str):
            raise self.fault("a text")
        stripped = self.value.strip()
        if not stripped and not empty:
            raise self.fault("a text that is not empty")
        if len(stripped) > LONGEST_TEXT:
            raise self.fault(f"at most {LONGEST_TEXT} characters", f"{len(stripped)}")
        return stripped

    def code(self) -> str:
        """Read a short name of lower-case words joined by hyphens, at most 40 characters."""
        text = self.text()
        if not _CODE.fullmatch(text) or len(text) > 40:
            raise self.fault("lower-case words joined by hyphens, at most 40 characters")
        return text

    def truth(self) -> bool:
        """Read true or false."""
        if not isinstance(self.value, bool):
            raise self.fault("true or false")
        return self.value

    def whole(self, least: int, most: int) -> int:
        """Read a whole number between two bounds, both allowed."""
        found = self.value
        is_whole = isinstance(found, int) and not isinstance(found, bool)
        if not is_whole or not least <= found <= most:
            raise self.fault(f"a whole number from {least} to {most}")
        return int(found)

    def decimal(self, least: Decimal | int, most: Decimal | int, *, above: bool = False) -> Decimal:
        """Read an exact decimal (a string, or a number token); ``above`` refuses the lower bound itself."""
        number = self._decimal()
        low_enough = number > least if above else number >= least
        if not (low_enough and number <= most):
            raise self.fault(f"a number {'above' if above else 'from'} {least} to {most}")
        exponent = number.as_tuple().exponent
        if isinstance(exponent, int) and exponent < -9:
            raise self.fault("at most nine decimals")
        return number

    def choice(self, *known: str) -> str:
        """Read one of a few words."""
        if self.value not in known:
            raise self.fault("one of " + ", ".join(f"“{word}”" for word in known))
        return str(self.value)

    def _decimal(self) -> Decimal:
        found = self.value
        text = format(found, "f") if isinstance(found, Decimal) else str(found)
        if self.is_angle and isinstance(found, str) and is_marked(found):
            return self._marked(found)
        is_numeric = isinstance(found, str | int | Decimal) and not isinstance(found, bool)
        if not is_numeric or len(text) > 40 or not _DECIMAL.fullmatch(text):
            raise self.fault("a number such as 0.02")
        try:
            return Decimal(text)
        except InvalidOperation as fault:  # more digits than the context allows
            raise self.fault("a number with fewer digits") from fault

    def _marked(self, text: str) -> Decimal:
        try:
            return enter_angle(text, unmarked=Unit.ARCSEC)
        except LabError as fault:
            raise self.fault("an angle such as 15° or 2.5′") from fault


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, str):
        return f"“{value[:40]}{'…' if len(value) > 40 else ''}”" if value else "an empty text"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "an object"
    return "a list" if isinstance(value, list | tuple) else str(value)
