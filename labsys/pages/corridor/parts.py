"""The parts of one drawn corridor: what the template writes down, nothing that needs another thought."""

from __future__ import annotations

from dataclasses import dataclass

from labsys.pages.corridor import marks
from labsys.pages.corridor.data import Box

EDGE = 1.0  # a band that runs on ends this far from the picture's edge


@dataclass(frozen=True)
class Text:
    """A numeral: where its left end stands, and what it says."""

    x: float
    y: float
    text: str


@dataclass(frozen=True)
class Wall:
    """A limit: a wall where there is one, otherwise the dashed end of a band that runs on."""

    x: float
    exists: bool


@dataclass(frozen=True)
class Whisker:
    """E ± U: from cap to cap at the height of the mark."""

    start: float
    end: float
    y: float
    cap: float

    @property
    def path(self) -> str:
        """Give the line with its two caps."""
        top, height = self.y - self.cap, 2 * self.cap
        return f"M{self.start} {self.y}H{self.end}M{self.start} {top}v{height}M{self.end} {top}v{height}"


@dataclass(frozen=True)
class Cut:
    """A break of the axis: the gap laid over everything, and its two strokes."""

    x: float
    gap: str
    strokes: str


@dataclass(frozen=True)
class Corridor:
    """What the template writes down; nothing in here needs another thought."""

    box: Box
    title: str
    description: str
    share: float
    walls: tuple[Wall, Wall]
    has_band: bool
    guard: str
    acceptance: tuple[float, ...]
    ticks: tuple[tuple[float, bool], ...]
    zero: float | None
    cuts: tuple[Cut, ...]
    whisker: Whisker | None
    mark: marks.Mark
    earlier: marks.Mark | None
    texts: tuple[Text, ...]
    is_read: bool

    @property
    def band_width(self) -> float:
        """Give the pixels between the two walls."""
        return round(self.walls[1].x - self.walls[0].x, 2)

    @property
    def ruler(self) -> str:
        """Give the axis with all its ticks as one path: fifty of these pictures stand on a page."""
        bottom, short, long = self.box.band_bottom, self.box.tick, self.box.long_tick
        strokes = (f"M{x} {bottom}v{long if is_long else short}" for x, is_long in self.ticks)
        return f"M{EDGE} {bottom}H{self.box.axis_end}" + "".join(strokes)
