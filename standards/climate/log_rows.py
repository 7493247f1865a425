"""One reading of a log, from its texts to numbers: the same rules for a line of a file and for what a program sends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation
from zoneinfo import ZoneInfo

# What a room with people in it can have; beyond, the sensor or the column is wrong (common practice, no source).
LOWEST_C, HIGHEST_C = Decimal(-20), Decimal(60)
_TIME = "a time such as 2026-11-25 07:43 or 2026-11-25T07:43+01:00"


@dataclass(frozen=True)
class LogRow:
    """A reading: which line or place it had, when, °C to a thousandth, relative humidity in percent to a tenth."""

    line: int
    at: datetime
    temperature_c: Decimal
    humidity_percent: Decimal | None


@dataclass(frozen=True)
class LogFault:
    """A line that could not be taken, with the sentence why."""

    line: int
    sentence: str


class RowUnreadable(ValueError):
    """Says what was expected in a row and what was found; caught where rows are read, line by line."""

    def __init__(self, expected: str, found: str) -> None:
        super().__init__(f"Expected {expected}, found {f'“{found[:40]}”' if found else 'nothing'}.")


def row_of(line: int, texts: tuple[str, str, str], zone: ZoneInfo) -> LogRow:
    """Read time, temperature and humidity (empty where there is none); raises RowUnreadable.

    A time without an offset is the laboratory's, whose zone is given.
    """
    at, temperature, humidity = (text.strip() for text in texts)
    return LogRow(
        line,
        instant_of(at, zone),
        _within("a temperature", temperature, LOWEST_C, HIGHEST_C, Decimal("0.001")),
        _within("a humidity", humidity, Decimal(0), Decimal(100), Decimal("0.1")) if humidity else None,
    )


def instant_of(text: str, zone: ZoneInfo) -> datetime:
    """Read an ISO time with or without its offset; raises RowUnreadable, also in an hour that is put twice or never."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise RowUnreadable(_TIME, text) from None
    if ":" not in text:
        raise RowUnreadable(_TIME, text)
    if found.tzinfo is not None:
        return found.astimezone(UTC)
    earlier, later = (found.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1))
    if earlier != later:
        raise RowUnreadable("a time with its offset, as the clocks are changed in that hour", text)
    return earlier


def _within(what: str, text: str, low: Decimal, high: Decimal, step: Decimal) -> Decimal:
    expected = f"{what} between {low} and {high}".replace("-", "−")
    cleaned = text.replace("\u2212", "-").replace(",", ".").removesuffix("%").removesuffix("°C").strip()
    try:
        value = Decimal(cleaned)
    except InvalidOperation:
        raise RowUnreadable(expected, text) from None
    if not value.is_finite() or not low <= value <= high:
        raise RowUnreadable(expected, text)
    return value.quantize(step, ROUND_HALF_EVEN)
