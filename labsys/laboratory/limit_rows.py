"""Lines of limits as they travel: a function, the length they reach to, a lower and an upper limit, in millimetres.

For a family that measures angles they are in arc seconds, and may be entered with their marks: 360°, −5′, 0.1°.

Lives here: how one line is read and what contradicts itself. May not live here: whose limits they are.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, ClassVar

from labsys.errors import LabError
from labsys.laboratory.models import CHARACTERISTICS
from labsys.metrology.angle_readings import enter_angle
from labsys.metrology.exact import plain
from labsys.metrology.units import Quantity, Unit

LENGTHS = ("up_to_mm", "lower_mm", "upper_mm")


class LimitRowFault(LabError, ValueError):
    """A line of limits can't be read or contradicts itself."""

    code: ClassVar[str] = "limit-row-fault"
    sentence: ClassVar[str] = "Line {line} of the limits: {fault}"
    field: ClassVar[str | None] = "rows"


@dataclass(frozen=True, slots=True)
class LimitLine:
    """One line: it holds for its function up to and with ``up_to_mm``; None where a side has no limit."""

    function: str
    up_to_mm: Decimal
    lower_mm: Decimal | None
    upper_mm: Decimal | None

    def travelling(self) -> dict[str, Any]:
        """Give the line with decimals as text without needless zeros, as it is stored and hashed."""
        return {
            name: format(plain(value), "f") if isinstance(value, Decimal) else value
            for name, value in asdict(self).items()
        }


def read_lines(
    rows: Iterable[dict[str, Any]], *, subject: str = "", quantity: str = Quantity.LENGTH
) -> list[LimitLine]:
    """Read lines whose lengths are decimals or their text; raises LimitRowFault that names the line."""
    lines = [
        read_line(number, row, subject=subject, quantity=quantity) for number, row in enumerate(rows, start=1)
    ]
    _refuse_doubles(lines, subject, Quantity(quantity).base)
    return lines


def read_line(
    number: int, row: dict[str, Any], *, subject: str = "", quantity: str = Quantity.LENGTH
) -> LimitLine:
    """Read one line of limits; raises LimitRowFault that names the line and what is wrong with it."""
    function = str(row.get("function", ""))
    if function not in CHARACTERISTICS:
        fault = f"“{function}” is no measuring function ({', '.join(CHARACTERISTICS)})."
        raise LimitRowFault(line=number, fault=fault, subject=subject)
    read = _angle if quantity == Quantity.ANGLE else _length
    up_to, lower, upper = (read(number, name, row.get(name), subject) for name in LENGTHS)
    fault = _contradiction(up_to, lower, upper, Quantity(quantity).base)
    if up_to is None or fault:
        raise LimitRowFault(line=number, fault=fault, subject=subject)
    return LimitLine(function=function, up_to_mm=up_to, lower_mm=lower, upper_mm=upper)


def _contradiction(up_to: Decimal | None, lower: Decimal | None, upper: Decimal | None, unit: Unit) -> str:
    if up_to is None or up_to <= 0:
        return f"the {unit.quantity} it reaches to must be above 0 {unit}."
    if lower is None and upper is None:
        return "neither a lower nor an upper limit is given."
    if lower is not None and upper is not None and upper <= lower:
        return f"the upper limit {upper} {unit} must lie above the lower one, {lower} {unit}."
    return ""


def _length(number: int, name: str, value: Any, subject: str) -> Decimal | None:
    if value is None or str(value).strip() == "":
        return None
    try:
        read = Decimal(str(value).strip())
    except InvalidOperation as problem:
        fault = f"“{value}” is no number of millimetres ({name})."
        raise LimitRowFault(line=number, fault=fault, subject=subject) from problem
    if not read.is_finite() or read != round(read, 9) or abs(read) >= 1_000_000:
        fault = f"{value} mm is not a length the program keeps: nine decimals, below a kilometre ({name})."
        raise LimitRowFault(line=number, fault=fault, subject=subject)
    return read


def _angle(number: int, name: str, value: Any, subject: str) -> Decimal | None:
    if value is None or str(value).strip() == "":
        return None
    try:
        return enter_angle(str(value), unmarked=Unit.ARCSEC)
    except LabError as problem:
        raise LimitRowFault(line=number, fault=f"{problem} ({name})", subject=subject) from problem


def _refuse_doubles(lines: list[LimitLine], subject: str, unit: Unit) -> None:
    seen: set[tuple[str, Decimal]] = set()
    for number, line in enumerate(lines, start=1):
        key = (line.function, line.up_to_mm)
        if key in seen:
            fault = f"there is another line for {line.function} up to {line.up_to_mm} {unit}."
            raise LimitRowFault(line=number, fault=fault, subject=subject)
        seen.add(key)
