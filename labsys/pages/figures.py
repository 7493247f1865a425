"""How numbers and times are written for people: always a sign on an error, a real minus, ISO dates, the lab's zone.

Pure but for the zone, which the caller passes. Rounding to what U allows is metrology's; nothing is rounded here
unless a number of places is asked for, and then half-even.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from zoneinfo import ZoneInfo

MINUS = "\N{MINUS SIGN}"
PLUS = "+"
NARROW_GAP = "\N{NO-BREAK SPACE}"


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


def with_unit(text: str, unit: str) -> str:
    """Join a number and its unit so that no line break parts them."""
    return f"{text}{NARROW_GAP}{unit}" if unit else text


def on(day: date | None) -> str:
    """Give a date as 2026-11-25, or a dash where there is none."""
    return day.isoformat() if day else "–"


def when(instant: datetime | None, *, zone: ZoneInfo) -> str:
    """Give an instant as 2026-11-25 07:43 in the given zone, or a dash where there is none."""
    return f"{instant.astimezone(zone):%Y-%m-%d %H:%M}" if instant else "–"
