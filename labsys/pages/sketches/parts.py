"""Parts that several gauges share: marks, measuring heads, dials, plates, and round things seen from the front."""

from __future__ import annotations

from labsys.pages.sketches.shapes import (
    Axis,
    Shape,
    Spot,
    arc,
    circle,
    clock,
    hatch,
    line,
    rectangle,
)

PLATE = 262.0
"""Where the top of a surface plate is drawn."""

SECTIONS = {"entry": 0.14, "tip": 0.14, "middle": 0.5, "centre": 0.5, "": 0.5, "far": 0.86, "root": 0.86}
"""How far along a cylinder its sections lie, from the entry."""


def contact(x: float, y: float, toward: float, half: float = 17) -> tuple[Shape, Shape]:
    """Mark a face that touches: a bar along it and an arrow head that points at it, in degrees as an axis."""
    axis = Axis(x, y, toward)
    bar = Shape("place", axis.bar(-1, 1, half))
    return bar, Shape("arrow", axis.polygon([(-4, 0), (-17, -7), (-17, 7)]))


def pinch(x: float, top: float, bottom: float, half: float = 17) -> tuple[Shape, ...]:
    """Mark where something is touched from above and from below."""
    return (*contact(x, top, 90, half), *contact(x, bottom, -90, half))


def squeeze(y: float, left: float, right: float, half: float = 17) -> tuple[Shape, ...]:
    """Mark where something is touched from the left and from the right."""
    return (*contact(left, y, 0, half), *contact(right, y, 180, half))


def target(x: float, y: float) -> tuple[Shape, Shape]:
    """Mark a point on a surface."""
    return Shape("place", circle(x, y, 11)), Shape("arrow", circle(x, y, 4))


def way(x: float, y: float, direction: str, length: float = 46) -> tuple[Shape, ...]:
    """Draw the direction of travel beside the part that moves; nothing where none is asked for."""
    if direction not in ("up", "down"):
        return ()
    axis = Axis(x, y, -90 if direction == "up" else 90)
    half = length / 2
    return (
        Shape("place", axis.line((-half, 0), (half - 12, 0))),
        Shape("arrow", axis.polygon([(half, 0), (half - 15, -7), (half - 15, 7)])),
    )


def plate(left: float, right: float, top: float = PLATE) -> tuple[Shape, ...]:
    """Draw a surface plate from the side."""
    return (
        Shape("body", rectangle(left, top, right, top + 26)),
        Shape("line", hatch(left, top, right, top + 26, spacing=13)),
    )


def head(axis: Axis, edge: float) -> tuple[Shape, ...]:
    """Draw a micrometer head along an axis: the sleeve from 0, the thimble from its edge, the ratchet."""
    ticks = "".join(
        axis.line((along, 0), (along, 6 if n % 2 else -7)) for n, along in enumerate(range(6, int(edge), 4))
    )
    bevel = "".join(axis.line((edge, 0.6 * aside), (edge + 13, aside)) for aside in (-14, -5, 5, 14))
    knurl = "".join(axis.line((edge + along, -20), (edge + along, 20)) for along in range(44, 74, 5))
    thimble = [(edge, -14), (edge + 14, -21), (edge + 76, -21), (edge + 76, 21), (edge + 14, 21), (edge, 14)]
    return (
        Shape("body", axis.bar(0, edge + 20, 14)),
        Shape("line", axis.line((4, 0), (edge, 0)) + ticks),
        Shape("slide", axis.bar(edge + 76, edge + 84, 8)),
        Shape("slide", axis.bar(edge + 84, edge + 100, 13)),
        Shape("slide", axis.polygon(thimble)),
        Shape("line", bevel + knurl),
    )  # fmt: skip


def dial(x: float, y: float, radius: float, share: float) -> tuple[Shape, ...]:
    """Draw a dial with its pointer at a share of one turn."""
    ticks = "".join(
        line(clock(x, y, radius - 5, 9 * n), clock(x, y, radius - (12 if n % 4 == 0 else 9), 9 * n))
        for n in range(40)
    )
    pointer = Axis(x, y, 360 * share - 90)
    return (
        Shape("body", circle(x, y, radius)),
        Shape("line", circle(x, y, radius - 5) + ticks),
        Shape("slide", pointer.polygon([(-10, -1.5), (radius - 14, -0.5), (radius - 14, 0.5), (-10, 1.5)])),
        Shape("slide", circle(x, y, 3.5)),
    )


def cross(centre: Spot, radius: float) -> Shape:
    """Draw the four directions on something round, the one of 0° at the top doubled."""
    x, y = centre
    ends = [line(clock(x, y, radius - 7, turn), clock(x, y, radius, turn)) for turn in (0, 90, 180, 270)]
    return Shape("line", "".join(ends) + rectangle(x - 2, y - radius, x + 2, y - radius + 9))


def face(centre: Spot, radius: float, name: str, angle: float | None) -> tuple[Shape, ...]:
    """Draw a measuring face from the front, with the spot on its edge or at its centre."""
    shapes = (Shape("body", circle(*centre, radius)), cross(centre, radius))
    if name in ("centre", "middle"):
        return (*shapes, *target(*centre))
    return shapes if angle is None else (*shapes, *target(*clock(*centre, radius - 13, angle)))


def thimble(centre: Spot, radius: float, angle: float | None) -> tuple[Shape, ...]:
    """Draw a thimble from its end, with how far it is turned where that is said."""
    shapes = (
        Shape("slide", circle(*centre, radius)),
        Shape("body", circle(*centre, radius - 18)),
        cross(centre, radius),
    )
    if angle is None:
        return shapes
    x, y = clock(*centre, radius - 4, angle)
    turned = [Shape("place", arc(centre, radius - 9, 0, angle))] if angle else []
    return (*shapes, *turned, Shape("place", line(centre, (x, y))), Shape("arrow", circle(x, y, 6)))


def across(centre: Spot, radius: float, angle: float) -> tuple[Shape, ...]:
    """Mark a diameter of something round at an angle."""
    x, y = centre
    ends = [(clock(x, y, radius, turn), turn + 90) for turn in (angle, angle + 180)]
    marks = [shape for spot, toward in ends for shape in contact(*spot, toward, half=11)]
    return (Shape("place", line(ends[0][0], ends[1][0]), dashed=True), *marks)


def swing(centre: Spot, radius: float, start: float, end: float) -> tuple[Shape, ...]:
    """Draw to and fro: an arc with a head at both ends, angles from the top."""
    (x1, y1), (x2, y2) = clock(*centre, radius, start), clock(*centre, radius, end)
    point = [(12.0, 0.0), (-2.0, -6.0), (-2.0, 6.0)]
    return (
        Shape("place", arc(centre, radius, start, end), dashed=True),
        Shape("arrow", Axis(x1, y1, start - 180).polygon(point)),
        Shape("arrow", Axis(x2, y2, end).polygon(point)),
    )


def wall(left: float, top: float, right: float, bottom: float, kind: str = "body") -> tuple[Shape, ...]:
    """Draw a wall that is cut through."""
    return Shape(kind, rectangle(left, top, right, bottom)), Shape("line", hatch(left, top, right, bottom))


def upright_scale(x: float, top: float, bottom: float, *, spacing: float = 8) -> str:
    """Give the ticks of a scale that stands upright, every fifth one longer."""
    count = int((bottom - top) // spacing)
    return "".join(f"M{x:.1f} {top + n * spacing:.1f}h{9 if n % 5 == 0 else 5}" for n in range(count + 1))
