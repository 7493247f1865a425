"""The bevel protractor: blade and stock closed on an angle."""

from __future__ import annotations

from math import cos, radians, sin

from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Axis, Shape, Sketch, Text, arc, circle, clock, line, rectangle

# Where stock and blade meet, the disc about it, and how far the blade reaches, in pixels.
X, Y, DISC, REACH = 166.0, 222.0, 66.0, 206.0
STEEPEST = 130.0
QUADRANTS = {"quadrant-1": 0, "quadrant-2": 270, "quadrant-3": 180, "quadrant-4": 90}

_HOW = (
    "Stock and blade are laid on the angle against the light, without a gap along either; then clamp and read. "
    "Quadrants are counted against the clock from the upper right."
)
_ZERO = "The blade lies along the stock, or both on one straight edge, without a gap."


def protractor(point: GaugePoint) -> Sketch:
    """Draw a bevel protractor on an angle block; a bare angle as the place opens it by that."""
    place = point.where
    quadrant = QUADRANTS.get(point.place)
    is_known = quadrant is not None or place.name in ("", "middle", "blade", "base", "left", "right")
    opened = place.angle if place.is_angle and place.angle is not None else 90 * point.share
    angle = 0.0 if point.is_zero else min(max(opened, 4.0), STEEPEST)
    blade = Axis(X, Y, -angle)
    shapes = [
        *([Shape("reference", _wedge(angle))] if angle else []),
        Shape("body", rectangle(X - 96, Y, X + 296, Y + 26)),
        Shape("slide", blade.polygon([(-DISC + 10, 0), (REACH, 0), (REACH - 16, -22), (-DISC + 10, -22)])),
        *_disc(blade),
    ]
    if is_known:
        shapes += _marks(blade, quadrant)
    texts = (
        *label(24, 32, place.words),
        *_named(point, angle),
    )
    how = _ZERO if point.is_zero else _HOW
    return finish(point, Picture("Protractor", how, tuple(shapes), texts, is_known))


def _named(point: GaugePoint, angle: float) -> tuple[Text, ...]:
    """Write the reference on the angle block, or beside one that is too thin for words."""
    if angle < 42:
        return label(X + 296, Y - 14, point.reference_text, "end")
    x, y = Axis(X, Y, -angle / 2).at(136)
    return label(x, y + 6, point.reference_text, "middle")


def _wedge(angle: float) -> str:
    """Give the angle block: one side along the stock, one along the blade."""
    near, far = 78.0, 190.0
    turn = radians(angle)
    side = [(X + far * cos(part), Y - far * sin(part)) for part in (0.0, turn / 2, turn)]
    inner = [(X + near * cos(turn), Y - near * sin(turn)), (X + near, Y)]
    return line(*side, *inner) + "z"


def _disc(blade: Axis) -> tuple[Shape, ...]:
    ticks = "".join(
        line(clock(X, Y, DISC - (13 if n % 3 == 0 else 9), 10 * n), clock(X, Y, DISC - 3, 10 * n))
        for n in range(36)
    )
    return (
        Shape("body", circle(X, Y, DISC)),
        Shape("line", ticks),
        Shape("slide", circle(X, Y, DISC - 16)),
        Shape("line", blade.line((DISC - 30, 0), (DISC - 16, 0)) + circle(X, Y, 9)),
    )


def _marks(blade: Axis, quadrant: int | None) -> tuple[Shape, ...]:
    """Mark the two edges that lie on the angle, and the quadrant of the disc that is read."""
    middle, low = blade.at(134), (X + 134, Y)
    read = [] if quadrant is None else [Shape("place", arc((X, Y), DISC + 7, quadrant, quadrant + 90))]
    return (
        *read,
        Shape(
            "place",
            "".join(
                one.polygon([(DISC + 12, -1), (190, -1), (190, 1), (DISC + 12, 1)])
                for one in (blade, Axis(X, Y))
            ),
        ),
        Shape("arrow", Axis(*middle, blade.degrees + 90).polygon([(-4, 0), (-17, -7), (-17, 7)])),
        Shape("arrow", Axis(*low, -90).polygon([(-4, 0), (-17, -7), (-17, 7)])),
    )
