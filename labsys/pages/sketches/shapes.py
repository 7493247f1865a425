"""The few forms that sketches are made of, in pixels of a box 500 × 300."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin

from labsys.pages.palette import PRINT

WIDTH, HEIGHT = 500, 300

# Class name -> colours (inside, line) where no style sheet is read, and the width of the line.
LOOKS: dict[str, tuple[str, str, float]] = {
    "body": ("sheet", "ink", 2),
    "slide": ("well", "ink", 2),
    "reference": ("band", "accent", 2),
    "place": ("none", "accent", 2.5),
    "arrow": ("accent", "accent", 2),
    "line": ("none", "edge", 1),
}


@dataclass(frozen=True)
class Shape:
    """One path with the part it plays; ``dashed`` for what is marked and not made."""

    kind: str
    path: str
    dashed: bool = False

    @property
    def fill(self) -> str:
        """Give the colour inside where no style sheet is read."""
        name = LOOKS[self.kind][0]
        return name if name == "none" else PRINT[name]

    @property
    def ink(self) -> str:
        """Give the colour of the line where no style sheet is read."""
        return PRINT[LOOKS[self.kind][1]]

    @property
    def line(self) -> float:
        """Give the width of the line."""
        return LOOKS[self.kind][2]


@dataclass(frozen=True)
class Text:
    """Words in the sketch; ``anchor`` is start, middle or end."""

    x: float
    y: float
    text: str
    anchor: str = "start"


@dataclass(frozen=True)
class Sketch:
    """A drawn sketch, its name and what it shows in words."""

    title: str
    description: str
    shapes: tuple[Shape, ...]
    texts: tuple[Text, ...]
    width: int = WIDTH
    height: int = HEIGHT


Spot = tuple[float, float]
"""A point of the box: pixels from the left, pixels from the top."""


@dataclass(frozen=True)
class Axis:
    """A line to draw along: where it starts and its direction in degrees, 0 to the right, 90 downwards."""

    x: float
    y: float
    degrees: float = 0.0

    def at(self, along: float, aside: float = 0.0) -> Spot:
        """Give the point so far along the axis and so far to the right of one who looks along it."""
        across, down = cos(radians(self.degrees)), sin(radians(self.degrees))
        return self.x + along * across - aside * down, self.y + along * down + aside * across

    def polygon(self, points: Sequence[Spot]) -> str:
        """Give a closed path through points along and aside."""
        return polygon([self.at(*point) for point in points])

    def bar(self, start: float, end: float, half: float) -> str:
        """Give a closed rectangle that lies evenly on both sides of the axis."""
        return self.polygon([(start, -half), (end, -half), (end, half), (start, half)])

    def line(self, *points: Spot) -> str:
        """Give an open path through points along and aside."""
        return line(*(self.at(*point) for point in points))


def clock(x: float, y: float, radius: float, degrees: float) -> Spot:
    """Give the point on a circle at an angle from the top, clockwise."""
    return Axis(x, y, degrees - 90).at(radius)


def line(*points: Spot) -> str:
    """Give an open path through the points."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def arc(centre: Spot, radius: float, start: float, end: float) -> str:
    """Give the open arc clockwise from one angle to another, both counted from the top."""
    (x1, y1), (x2, y2) = clock(*centre, radius, start), clock(*centre, radius, end)
    large = int(end - start > 180)
    return f"M{x1:.1f} {y1:.1f}A{radius:.1f} {radius:.1f} 0 {large} 1 {x2:.1f} {y2:.1f}"


def hatch(left: float, top: float, right: float, bottom: float, *, spacing: float = 9) -> str:
    """Give the slanting lines that show a cut surface."""
    lines, height = [], bottom - top
    for n in range(1, int((right - left + height) // spacing) + 1):
        foot = left + n * spacing
        low = (min(foot, right), bottom - max(foot - right, 0.0))
        high = (max(foot - height, left), top + max(left - foot + height, 0.0))
        lines.append(line(low, high))
    return "".join(lines)


def polygon(points: Sequence[Spot]) -> str:
    """Give a closed path through the points."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + "z"


def rectangle(left: float, top: float, right: float, bottom: float) -> str:
    """Give a closed rectangle."""
    return polygon([(left, top), (right, top), (right, bottom), (left, bottom)])


def circle(x: float, y: float, radius: float) -> str:
    """Give a full circle."""
    radius = round(radius, 1)
    return f"M{x - radius:.1f} {y:.1f}a{radius} {radius} 0 1 0 {2 * radius} 0a{radius} {radius} 0 1 0 {-2 * radius} 0z"


def scale_ticks(start: float, end: float, y: float, *, spacing: float = 8) -> str:
    """Give the ticks of a scale along a line, every fifth one longer."""
    count = int((end - start) // spacing)
    return "".join(f"M{start + n * spacing:.1f} {y:.1f}v{-9 if n % 5 == 0 else -5}" for n in range(count + 1))
