"""The coverage rule: the gauge's own scale with a lane for each place on the faces, and what is done, next, planned.

Pure geometry in pixels of a box 788 wide; the markup is ``instruments/measuring/coverage.svg``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.pages.figures import NARROW_GAP, with_unit

WIDTH, LEFT, RIGHT = 788.0, 96.0, 772.0
LANE, TOP = 18.0, 2.0
"""Height of a lane, and where the first begins."""
FEWEST_LABELS = 5
HALF_LETTER = 3.8
"""Half the width of a letter below the scale, on average."""


@dataclass(frozen=True)
class CoverageMark:
    """A point on the scale: its length in the unit shown, its lane (0 is next to the beam), its state.

    ``state``: done, next, or planned.
    """

    length: float
    lane: int
    state: str


@dataclass(frozen=True)
class CoverageData:
    """What the rule is drawn from: the range and unit shown, the names of the lanes, the points."""

    low: float
    high: float
    unit: str
    lanes: tuple[str, ...]
    marks: tuple[CoverageMark, ...]


@dataclass(frozen=True)
class Placed:
    """A mark with its pixel: a tick for what is done, a box for what is not."""

    x: float
    y: float
    state: str


@dataclass(frozen=True)
class Label:
    """A number below the scale, or a lane's name before it."""

    x: float
    y: float
    text: str


@dataclass(frozen=True)
class Coverage:
    """What the template writes down."""

    width: float
    height: float
    left: float
    right: float
    lanes: tuple[Label, ...]
    rules: tuple[float, ...]
    ticks: str
    numbers: tuple[Label, ...]
    marks: tuple[Placed, ...]
    title: str
    description: str


def draw(data: CoverageData) -> Coverage:
    """Work the picture out. Every mark lies inside the scale, whatever its length."""
    lanes = max(1, len(data.lanes))
    bottom = TOP + lanes * LANE
    step = _step(data.high - data.low)
    return Coverage(
        width=WIDTH,
        height=bottom + 24,
        left=LEFT,
        right=RIGHT,
        lanes=tuple(Label(0.0, TOP + (n + 0.72) * LANE, name) for n, name in enumerate(data.lanes)),
        rules=tuple(TOP + n * LANE for n in range(lanes + 1)),
        ticks=_ticks(data, bottom, step / 5),
        numbers=_numbers(data, bottom + 20, step),
        marks=tuple(_placed(mark, data) for mark in _in_order(data.marks)),
        title="Coverage of the measuring range",
        description=_words(data),
    )


def _in_order(marks: Sequence[CoverageMark]) -> list[CoverageMark]:
    """The next one is drawn last, so that nothing covers it."""
    return sorted(marks, key=lambda mark: ("planned", "done", "next").index(mark.state))


def _placed(mark: CoverageMark, data: CoverageData) -> Placed:
    lane = min(mark.lane, max(0, len(data.lanes) - 1))
    return Placed(_x(mark.length, data), TOP + (lane + 0.5) * LANE, mark.state)


def _x(length: float, data: CoverageData) -> float:
    share = (length - data.low) / (data.high - data.low)
    return round(LEFT + min(1.0, max(0.0, share)) * (RIGHT - LEFT), 1)


def _step(span: float) -> float:
    """Give a numbered step of 1, 2 or 5 that yields at least five numbers."""
    power = 10.0 ** math.floor(math.log10(span / FEWEST_LABELS))
    return power * max(step for step in (1, 2, 5, 10) if step * power <= span / FEWEST_LABELS * 1.0001)


def _ticks(data: CoverageData, bottom: float, step: float) -> str:
    """Give the ticks below the lanes as one path, every fifth one longer."""
    first, last = math.ceil(data.low / step - 1e-9), math.floor(data.high / step + 1e-9)
    strokes = (f"M{_x(n * step, data)} {bottom}v{7 if n % 5 == 0 else 4}" for n in range(first, last + 1))
    return f"M{LEFT} {bottom}H{RIGHT}" + "".join(strokes)


def _numbers(data: CoverageData, y: float, step: float) -> tuple[Label, ...]:
    first, last = math.ceil(data.low / step - 1e-9), math.floor(data.high / step + 1e-9)
    found = [Label(_x(n * step, data), y, f"{n * step:g}") for n in range(first, last + 1)]
    if not found:
        return ()
    text = with_unit(found[-1].text, data.unit).replace(NARROW_GAP, " ")
    # The last number carries the unit, and is kept inside the picture.
    x = min(found[-1].x, round(WIDTH - HALF_LETTER * len(text), 1))
    return (*found[:-1], Label(x, y, text))


def _words(data: CoverageData) -> str:
    """Say the same for those who hear the page."""
    said = []
    for state, words in (("done", "Done"), ("next", "Next"), ("planned", "Planned")):
        found = [mark for mark in data.marks if mark.state == state]
        if found:
            each = ", ".join(_point(mark, data) for mark in sorted(found, key=lambda mark: mark.length))
            said.append(f"{words}: {each}.")
    return " ".join(said) or "No point on the scale yet."


def _point(mark: CoverageMark, data: CoverageData) -> str:
    lane = data.lanes[min(mark.lane, len(data.lanes) - 1)] if data.lanes else ""
    return f"{with_unit(f'{mark.length:g}', data.unit)} {lane}".replace(NARROW_GAP, " ").strip()
