"""The rule of weeks: coming work in hours standing on a ruler whose 0 is today, against what the bench can do.

Plain data in, coordinates out. Outline is work that falls due, filled is work called in or here, the stepped line is
the bench's hours, what goes beyond is hatched; late work stands to the left of 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 800.0, 264.0
MARGIN, TOP, BASE = 8.0, 30.0, 204.0
GAP = 6.0  # between a bar and the edge of its week
HATCH = 6.0  # between strokes
DAYS = 7


@dataclass(frozen=True)
class WeekLoad:
    """One week as it is to be drawn; ``index`` 0 is this week, hours are bench hours, ``label`` stands below."""

    index: int
    label: str
    due_hours: float
    called_hours: float
    capacity_hours: float
    sentence: str
    url: str


@dataclass(frozen=True)
class Bar:
    """One week on the rule, in pixels: the two parts of its bar, the hatching, the numeral on top, the place to tap."""

    load: WeekLoad
    left: float
    width: float
    called_y: float
    called_height: float
    due_y: float
    due_height: float
    excess: str
    numeral: str
    numeral_y: float

    @property
    def middle(self) -> float:
        """Give where the numeral and the label stand."""
        return _round(self.left + self.width / 2)


@dataclass(frozen=True)
class Rule:
    """The whole picture: bars, the ruler's ticks as one path, the stepped line of capacity, and words for it."""

    bars: tuple[Bar, ...]
    ticks: str
    capacity: str
    zero_x: float
    slot: float
    title: str
    width: float = WIDTH
    height: float = HEIGHT
    top: float = TOP
    base: float = BASE
    margin: float = MARGIN
    end: float = WIDTH - MARGIN


def draw(weeks: Sequence[WeekLoad], *, title: str) -> Rule:
    """Work out the picture of at least one week; everything lies inside the box, whatever the hours."""
    slot = (WIDTH - 2 * MARGIN) / len(weeks)
    most = max((max(week.due_hours + week.called_hours, week.capacity_hours) for week in weeks), default=0.0)
    scale = (BASE - TOP) / most if most > 0 else 0.0
    coming = [place for place, week in enumerate(weeks) if week.index >= 0]
    zero = MARGIN + slot * (coming[0] if coming else len(weeks))
    steps = [(MARGIN + slot * place, BASE - weeks[place].capacity_hours * scale) for place in coming]
    return Rule(
        bars=tuple(_bar(week, MARGIN + slot * place, slot, scale) for place, week in enumerate(weeks)),
        ticks=_ticks(len(weeks), slot, zero),
        capacity=_steps(steps, slot) if most > 0 else "",
        zero_x=_round(zero),
        slot=_round(slot),
        title=title,
    )


def _bar(week: WeekLoad, x: float, slot: float, scale: float) -> Bar:
    left, width = _round(x + GAP), _round(slot - 2 * GAP)
    needs = week.due_hours + week.called_hours
    called_y, top = BASE - week.called_hours * scale, BASE - needs * scale
    line = BASE - week.capacity_hours * scale
    over = week.index >= 0 and needs > week.capacity_hours
    return Bar(
        load=week,
        left=left,
        width=width,
        called_y=_round(called_y),
        called_height=_round(BASE - called_y),
        due_y=_round(top),
        due_height=_round(called_y - top),
        excess=_hatching(left, left + width, top, line) if over else "",
        numeral=hours(needs) if needs > 0 else "",
        numeral_y=_round(top - 6),
    )


def _hatching(left: float, right: float, top: float, bottom: float) -> str:
    """Give strokes at 45° that fill a rectangle to its edges and no further."""
    parts = []
    offset = HATCH
    while offset < (right - left) + (bottom - top):
        # The stroke x + y = left + top + offset, cut to the rectangle.
        from_x = max(left, left + offset - (bottom - top))
        to_x = min(right, left + offset)
        parts.append(
            f"M{_round(from_x)} {_round(top + offset - (from_x - left))}"
            f"L{_round(to_x)} {_round(top + offset - (to_x - left))}"
        )
        offset += HATCH
    return "".join(parts)


def _steps(steps: Sequence[tuple[float, float]], slot: float) -> str:
    """Give the stepped line over the coming weeks."""
    parts = [f"M{_round(steps[0][0])} {_round(steps[0][1])}"] if steps else []
    for x, y in steps:
        parts.append(f"V{_round(y)}H{_round(x + slot)}")
    return "".join(parts)


def _ticks(weeks: int, slot: float, zero: float) -> str:
    """Give the ruler's ticks: one for each day, longer at each week, the longest at today."""
    parts = []
    for week in range(weeks + 1):
        x = MARGIN + week * slot
        length = 16 if abs(x - zero) < 0.01 else 11
        parts.append(f"M{_round(x)} {BASE}v{length}")
        if week < weeks:
            parts.extend(f"M{_round(x + slot * day / DAYS)} {BASE}v5" for day in range(1, DAYS))
    return "".join(parts)


def hours(value: float) -> str:
    """Write hours: whole ones from ten on, one decimal below."""
    text = f"{value:.0f}" if value >= 10 else f"{value:.1f}"
    return f"{text.removesuffix('.0')} h"


def _round(value: float) -> float:
    return round(value, 1)
