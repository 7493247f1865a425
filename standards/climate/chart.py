"""The course of a room's temperature as a picture: plain data for a drawing made on the server.

Lives here: arithmetic of places on the sheet. Nothing is asked of the database.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from labsys.pages.figures import when
from standards.climate.queries import LONGEST_GAP, Row

WIDTH, HEIGHT = 640, 200
LEFT, RIGHT, TOP, BOTTOM = 44, 632, 8, 172
REFERENCE_C = Decimal(20)
"""The reference temperature of lengths (ISO 1)."""
_STEPS = tuple(Decimal(text) for text in ("0.1", "0.2", "0.5", "1", "2", "5", "10", "20"))
_MOST_LINES = 6


@dataclass(frozen=True)
class Mark:
    """A line of the grid: where it is drawn, where its word stands, the word."""

    place: float
    text: str
    is_reference: bool = False


@dataclass(frozen=True)
class Chart:
    """The drawing: its paths (one for each stretch without a gap), the grid, and in words what it shows."""

    paths: tuple[str, ...]
    levels: tuple[Mark, ...]
    days: tuple[Mark, ...]
    says: str


def draw(rows: Sequence[Row], start: datetime, end: datetime, zone: ZoneInfo) -> Chart | None:
    """Draw the temperatures between two instants; None where there is nothing to draw."""
    if not rows or end <= start:
        return None
    levels = _levels([temperature for _at, temperature, _humidity in rows])
    low, high = levels[0], levels[-1]

    def place(at: datetime, temperature: Decimal) -> str:
        share = (at - start) / (end - start)
        rise = float((temperature - low) / (high - low))
        return f"{LEFT + share * (RIGHT - LEFT):.1f} {BOTTOM - rise * (BOTTOM - TOP):.1f}"

    paths = tuple(
        "M" + "L".join(place(at, value) for at, value in stretch)
        for stretch in _stretches(_thinned(rows, start, end))
    )
    lowest, highest = (pick(rows, key=lambda row: row[1]) for pick in (min, max))
    said = " to ".join(f"{_figure(row[1])} °C at {when(row[0], zone=zone)}" for row in (lowest, highest))
    return Chart(
        paths,
        tuple(_level(value, low, high) for value in levels),
        tuple(_days(start, end, zone)),
        f"From {said}.",
    )


def _levels(values: Sequence[Decimal]) -> list[Decimal]:
    """Give the temperatures of the grid: 1-2-5 steps, enough for what was read, at least one kelvin apart."""
    low, high = min(values), max(values)
    step = next((one for one in _STEPS if (high - low) / one <= _MOST_LINES - 2), _STEPS[-1])
    first = (low // step - (1 if low < 0 and low % step else 0)) * step
    found = [first]
    while found[-1] < high or len(found) < 2:
        found.append(found[-1] + step)
    return found


def _level(value: Decimal, low: Decimal, high: Decimal) -> Mark:
    rise = float((value - low) / (high - low))
    text = _figure(value).removesuffix(".0")
    return Mark(round(BOTTOM - rise * (BOTTOM - TOP), 1), text, value == REFERENCE_C)


def _days(start: datetime, end: datetime, zone: ZoneInfo) -> Iterator[Mark]:
    """Mark where the laboratory's days begin; every so many where there are many of them."""
    first = start.astimezone(zone).date() + timedelta(days=1)
    count = max(1, (end.astimezone(zone).date() - first).days + 1)
    every = -(-count // 8)
    for number in range(0, count, every):
        day = first + timedelta(days=number)
        at = datetime(day.year, day.month, day.day, tzinfo=zone)
        if at < end:
            yield Mark(round(LEFT + (at - start) / (end - start) * (RIGHT - LEFT), 1), f"{day:%m-%d}")


def _thinned(rows: Sequence[Row], start: datetime, end: datetime) -> list[tuple[datetime, Decimal]]:
    """Keep the lowest and highest reading of each stretch of the sheet, so that no peak is lost."""
    if len(rows) <= RIGHT - LEFT:
        return [(at, temperature) for at, temperature, _humidity in rows]
    buckets: dict[int, list[tuple[datetime, Decimal]]] = {}
    for at, temperature, _humidity in rows:
        buckets.setdefault(int((at - start) / (end - start) * (RIGHT - LEFT) / 2), []).append(
            (at, temperature)
        )
    kept = (
        {min(found, key=lambda one: one[1]), max(found, key=lambda one: one[1])} for found in buckets.values()
    )
    return [one for pair in kept for one in sorted(pair)]


def _stretches(points: Sequence[tuple[datetime, Decimal]]) -> Iterator[list[tuple[datetime, Decimal]]]:
    """Part the readings where the log has a gap: nobody knows what was between."""
    stretch: list[tuple[datetime, Decimal]] = []
    for point in points:
        if stretch and point[0] - stretch[-1][0] > LONGEST_GAP:
            yield stretch
            stretch = []
        stretch.append(point)
    if stretch:
        yield stretch


def _figure(value_c: Decimal) -> str:
    return f"{value_c:.1f}".replace("-", "−")
