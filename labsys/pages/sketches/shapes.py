"""The few forms that sketches are made of, in pixels of a box 500 × 300."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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


def polygon(points: Sequence[tuple[float, float]]) -> str:
    """Give a closed path through the points."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + "z"


def rectangle(left: float, top: float, right: float, bottom: float) -> str:
    """Give a closed rectangle."""
    return polygon([(left, top), (right, top), (right, bottom), (left, bottom)])


def circle(x: float, y: float, radius: float) -> str:
    """Give a full circle."""
    return f"M{x - radius:.1f} {y:.1f}a{radius} {radius} 0 1 0 {2 * radius} 0a{radius} {radius} 0 1 0 {-2 * radius} 0z"


def scale_ticks(start: float, end: float, y: float, *, spacing: float = 8) -> str:
    """Give the ticks of a scale along a line, every fifth one longer."""
    count = int((end - start) // spacing)
    return "".join(f"M{start + n * spacing:.1f} {y:.1f}v{-9 if n % 5 == 0 else -5}" for n in range(count + 1))
