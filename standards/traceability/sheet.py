"""Values pasted or imported as lines: label, deviation, unit, U, k. Read here and shown in the form, stored nowhere."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import ClassVar

from labsys.errors import LabError
from labsys.metrology.units import Quantity, Unit, to_mm
from standards.register.models import Element

SEPARATORS = "\t;,"
UNITS = {"µm": Unit.UM, "μm": Unit.UM, "um": Unit.UM, "mm": Unit.MM}
ANGLES = {
    **{"″": Unit.ARCSEC, '"': Unit.ARCSEC, "''": Unit.ARCSEC, "arcsec": Unit.ARCSEC},
    **{"′": Unit.ARCMIN, "'": Unit.ARCMIN, "arcmin": Unit.ARCMIN, "°": Unit.DEG, "deg": Unit.DEG},
}
MOST_LINES = 1000


class LinesUnreadable(LabError, ValueError):
    """A line that isn't label, deviation, unit, U and k of an element of this standard."""

    code: ClassVar[str] = "lines-unreadable"
    sentence: ClassVar[str] = (
        "Line {line} (“{text}”): {why} Expected label; deviation; unit; U; k, such as 25; +0.12; µm; 0.05; 2."
    )
    field: ClassVar[str | None] = "lines"


@dataclass(frozen=True)
class Line:
    """One line as read: the element it is for, deviation and U in mm (arc seconds), k."""

    element: Element
    deviation_mm: Decimal
    U_mm: Decimal
    k: Decimal


def read(text: str, elements: Iterable[Element]) -> list[Line]:
    """Read pasted lines; a first line of headings is passed over. Raises LinesUnreadable for the first bad one."""
    known = list(elements)
    lines = [
        (number, cells)
        for number, cells in enumerate(_cells(text), start=1)
        if any(cells) and not (number == 1 and _is_heading(cells))
    ]
    if len(lines) > MOST_LINES:
        raise LinesUnreadable(line=MOST_LINES + 1, text="…", why=f"at most {MOST_LINES} lines are read.")
    return [_line(number, cells, known) for number, cells in lines]


def decode(content: bytes) -> str:
    """Read the bytes of a file as text: UTF-8, else what older spreadsheets write."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def figure(text: str) -> Decimal:
    """Read a number with point or comma and either minus; raises InvalidOperation."""
    plain = text.strip().replace("\N{MINUS SIGN}", "-").replace(" ", "")
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    found = Decimal(plain)
    if not found.is_finite():
        raise InvalidOperation(plain)
    return found


def _cells(text: str) -> Iterator[list[str]]:
    head = text.strip().split("\n", 1)[0]
    # A comma is a separator only where nothing better is there: it may be the decimal sign.
    separator = next((sign for sign in SEPARATORS if sign in head), ";")
    for row in csv.reader(io.StringIO(text), delimiter=separator):
        yield [cell.strip() for cell in row]


def _is_heading(cells: list[str]) -> bool:
    try:
        figure(cells[1] if len(cells) > 1 else "")
    except InvalidOperation:
        return True
    return False


def _line(number: int, cells: list[str], known: list[Element]) -> Line:
    def refuse(why: str) -> LinesUnreadable:
        return LinesUnreadable(line=number, text="; ".join(cells)[:80], why=why)

    if len(cells) < 5 or not all(cells[:5]):
        raise refuse("five entries are needed.")
    label, deviation, unit, expanded, k = cells[:5]
    element = _element(label, known)
    if element is None:
        raise refuse(f"this standard has no element “{label}”.")
    is_angle = element.standard.quantity is Quantity.ANGLE
    units = ANGLES if is_angle else UNITS
    if unit not in units:
        raise refuse(f"the unit “{unit}” is {'none of ″, ′ and °' if is_angle else 'neither µm nor mm'}.")
    try:
        sizes = [to_mm(figure(size), units[unit]) for size in (deviation, expanded)]
        return Line(element, sizes[0], sizes[1], figure(k))
    except InvalidOperation:
        raise refuse("deviation, U and k must be numbers.") from None


def _element(label: str, known: list[Element]) -> Element | None:
    """Find the element by its label, or by its nominal where only one has that."""
    exact = [element for element in known if element.label.casefold() == label.casefold()]
    if exact:
        return exact[0]
    try:
        nominal = figure(label)
    except InvalidOperation:
        return None
    same = [element for element in known if element.nominal_mm == nominal]
    return same[0] if len(same) == 1 else None
