"""Round gauges and the gauges that go into them, in two views: from the front with the angle, cut with the section."""

from __future__ import annotations

from dataclasses import dataclass

from labsys.pages.sketches import parts
from labsys.pages.sketches.gauge import GaugePoint
from labsys.pages.sketches.shapes import Shape, Spot, circle, line, rectangle

ANGLES = "Seen from the entry, 0° is at the top, where the mark is, and angles run clockwise."


@dataclass(frozen=True)
class Ring:
    """A ring in pixels: the centre from the front, half its sizes outside and inside, the cut's left edge and width.

    ``kind`` is "reference" where the ring is the standard and "body" where it is the gauge itself.
    """

    centre: Spot
    outer: float
    bore: float
    left: float
    width: float
    kind: str = "reference"

    def front(self) -> tuple[Shape, ...]:
        """Draw it from the front, with its mark at 0°."""
        x, y = self.centre
        hole = circle(x, y, self.outer) + circle(x, y, self.bore)
        mark = line((x, y - self.outer + 4), (x, y - self.bore - 4))
        return Shape(self.kind, hole), Shape("line", mark + circle(x, y, self.bore + 4))

    def cut(self) -> tuple[Shape, ...]:
        """Draw it cut through its axis, the entry on the left."""
        y, right = self.centre[1], self.left + self.width
        return (
            Shape("line", rectangle(self.left, y - self.bore, right, y + self.bore)),
            *parts.wall(self.left, y - self.outer, right, y - self.bore, self.kind),
            *parts.wall(self.left, y + self.bore, right, y + self.outer, self.kind),
        )

    def section(self, name: str) -> float:
        """Give where a section lies in the cut."""
        return self.left + self.width * parts.SECTIONS[name]

    def marks(self, name: str) -> tuple[Shape, ...]:
        """Mark a section in the cut."""
        x, y = self.section(name), self.centre[1]
        top, bottom = y - self.bore, y + self.bore
        return Shape("place", line((x, top), (x, bottom)), dashed=True), *parts.pinch(x, top, bottom, 12)


def knows(point: GaugePoint) -> bool:
    """Say whether a point's place is a section of something round, an angle, or both."""
    place = point.where
    has_angle = "/" not in point.place or place.angle is not None
    return place.name in parts.SECTIONS and has_angle and place.number is None


def angle_of(point: GaugePoint, usual: float = 0.0) -> float:
    """Give the angle of a point's place, or the usual one."""
    angle = point.where.angle
    return usual if angle is None else angle
