"""How numbers and times are written for people: always a sign on an error, a real minus, ISO dates, the lab's zone.

Pure but for the zone, which the caller passes. Rounding to what U allows is metrology's; nothing is rounded here
unless a number of places is asked for, and then half-even.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any
from zoneinfo import ZoneInfo

from labsys.metrology.angle_readings import angle_text
from labsys.metrology.exact import plain as strip
from labsys.metrology.units import Quantity, Unit, from_mm, to_mm

MINUS = "\N{MINUS SIGN}"
PLUS = "+"
NARROW_GAP = "\N{NO-BREAK SPACE}"
_CLOSE = frozenset(Quantity.ANGLE.units)


def plain(value: Decimal, *, places: int | None = None) -> str:
    """Give the number without an exponent and with a real minus; ``places`` fixes the decimals, half-even.

    Without ``places`` trailing zeros beyond the decimal point go, as they come from the column's scale and say nothing.
    """
    if places is None:
        text = f"{value:f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    else:
        text = f"{value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN):f}"
    if Decimal(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def signed(value: Decimal, *, places: int | None = None) -> str:
    """Give the number with its sign always: + for more than zero, − for less, none for zero itself."""
    text = plain(value, places=places)
    if text.startswith(MINUS):
        return text
    return text if Decimal(text) == 0 else PLUS + text


def gap_before(unit: str) -> str:
    """Give what stands between a number and its unit: nothing before °, ′ and ″ (ISO 80000-1, 7.1.4, from memory)."""
    return NARROW_GAP if unit and unit not in _CLOSE else ""


def with_unit(text: str, unit: str) -> str:
    """Join a number and its unit so that no line break parts them."""
    return f"{text}{gap_before(unit)}{unit}"


def size(value_mm: Decimal, unit: str) -> str:
    """Write a size, not a difference, in a unit without padding: 41.3 mm, 1.625 in, 45° 05′, 45.01°.

    ``value_mm`` is in mm, or in arc seconds for a unit of angle.
    """
    shown = Unit(unit)
    if shown.quantity is Quantity.ANGLE:
        return angle_text(value_mm, shown)
    return with_unit(plain(from_mm(value_mm, shown)), unit)


def amount(value_mm: Decimal, unit: str) -> str:
    """Write a difference or spread, exact, in the unit errors are shown in: 0.02 mm, 5′, 0.01°."""
    return with_unit(plain(from_mm(value_mm, Unit(unit))), unit)


def marked(seconds: Decimal) -> str:
    """Write an angle in the largest unit that it is whole in: 15°, −5′, 150″."""
    whole = (unit for unit in (Unit.DEG, Unit.ARCMIN) if seconds and seconds % to_mm(Decimal(1), unit) == 0)
    return amount(seconds, next(whole, Unit.ARCSEC))


def limit_rows(rows: Iterable[dict[str, Any]], quantity: str) -> list[dict[str, Any]]:
    """Write lines of limits that travel as text the way people enter them: angles with their marks."""
    if quantity != Quantity.ANGLE:
        return list(rows)
    return [
        {
            name: marked(Decimal(value)) if name != "function" and value is not None else value
            for name, value in row.items()
        }
        for row in rows
    ]


def said_size(value_mm: Decimal, unit: str) -> str:
    """Write a size in a stored sentence: a length in millimetres whatever the unit shown, an angle as it is shown."""
    if Unit(unit).quantity is Quantity.ANGLE:
        return size(value_mm, unit)
    return f"{strip(value_mm):f} mm"


def said_amount(value_mm: Decimal, unit: str) -> str:
    """Write a difference in a stored sentence: in millimetres, or in the unit that errors of an angle are shown in."""
    return amount(value_mm, unit) if Unit(unit).quantity is Quantity.ANGLE else f"{strip(value_mm):f} mm"


def sizes_unit(unit: str) -> str:
    """Name the unit over a column of sizes: minutes stand behind degrees there."""
    return "° ′" if unit == Unit.ARCMIN else unit


def on(day: date | None) -> str:
    """Give a date as 2026-11-25, or a dash where there is none."""
    return day.isoformat() if day else "–"


def when(instant: datetime | None, *, zone: ZoneInfo) -> str:
    """Give an instant as 2026-11-25 07:43 in the given zone, or a dash where there is none."""
    return f"{instant.astimezone(zone):%Y-%m-%d %H:%M}" if instant else "–"
