"""Gauges for bores: the inside micrometer in a ring, and the two-point head that is rocked in one."""

from __future__ import annotations

from labsys.pages.sketches import parts, rounds
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Axis, Shape, Sketch, circle, line, rectangle

# Where the middle of the bore gauge lies, in pixels from the left.
X = 176.0

_INSIDE = "The rod is swung in the ring: the largest across the bore, the smallest along it."
_INSIDE_ZERO = "The rod is set on its setting standard."
_ROCKED = "The head is rocked along the bore; the turning point counts, where the pointer comes back."
_ROCKED_ZERO = (
    "The head is rocked in the setting ring and the dial turned so that its turning point is at zero."
)


def inside_micrometer(point: GaugePoint) -> Sketch:
    """Draw an inside micrometer across a ring."""
    ring = rounds.Ring((142, 146), 128, 74 + 34 * point.share, 340, 104)
    angle = rounds.angle_of(point, usual=90.0)
    x, y = ring.centre
    is_known = rounds.knows(point)
    shapes = [*ring.front(), *ring.cut(), *_rod(Axis(x, y, angle - 90), ring.bore)]
    if is_known:
        name = point.where.name
        section = ring.section(name)
        shapes += [Shape("slide", rectangle(section - 5, y - ring.bore, section + 5, y + ring.bore))]
        shapes += [*parts.across(ring.centre, ring.bore, angle)[1:], *ring.marks(name)[1:]]
    texts = (*label(392, 296, point.where.words, "middle"), *label(x, 296, point.reference_text, "middle"))
    how = f"{_INSIDE_ZERO if point.is_zero else _INSIDE} {rounds.ANGLES}"
    return finish(point, Picture("Inside micrometer", how, tuple(shapes), texts, is_known))


def _rod(axis: Axis, reach: float) -> tuple[Shape, ...]:
    """Draw the rod with its thimble: the left half is the body, the right one turns out."""
    edge = reach - 62
    knurl = "".join(axis.line((edge + along, -13), (edge + along, 13)) for along in range(16, 40, 5))
    thimble = [(edge, -9), (edge + 8, -14), (edge + 42, -14), (edge + 42, 14), (edge + 8, 14), (edge, 9)]
    return (
        Shape("body", _tip(axis, 12 - reach, -reach, 5)),
        Shape("body", axis.bar(12 - reach, edge + 8, 9)),
        Shape("line", axis.line((40 - reach, 0), (edge, 0))),
        Shape("slide", axis.polygon(thimble)),
        Shape("slide", _tip(axis, edge + 42, reach, 5)),
        Shape("line", knurl),
    )


def _tip(axis: Axis, start: float, end: float, half: float) -> str:
    """Give a rod along an axis whose end is taken off to a point."""
    cut = end - (5 if end > start else -5)
    return axis.polygon([(start, -half), (cut, -half), (end, 0), (cut, half), (start, half)])


def bore_gauge(point: GaugePoint) -> Sketch:
    """Draw a two-point bore gauge in a setting ring cut open, rocked, and the ring from the front."""
    bore = 40 + 32 * point.share
    is_known = rounds.knows(point)
    # The ring stands on its face: its entry is at the top.
    depth = parts.SECTIONS[point.where.name] if is_known else 0.5
    head = 170 + 112 * depth
    ring = rounds.Ring((410, 196), 70, 0.62 * bore, 0, 0)
    left, right = X - bore, X + bore
    shapes = [
        *parts.wall(left - 52, 170, left, 282, "reference"),
        *parts.wall(right, 170, right + 52, 282, "reference"),
        Shape("line", line((left, 170), (right, 170)) + line((left, 282), (right, 282))),
        *_gauge(head, bore, point),
        *ring.front(),
    ]
    if is_known:
        shapes += [*parts.squeeze(head, left, right, 14)]
        shapes += parts.across(ring.centre, ring.bore, rounds.angle_of(point))
    shapes += parts.swing((X, head), head - 132, -32, 32)
    texts = (*label(410, 100, point.where.words, "middle"), *label(410, 292, point.reference_text, "middle"))
    how = f"{_ROCKED_ZERO if point.is_zero else _ROCKED} {rounds.ANGLES}"
    return finish(point, Picture("Bore gauge", how, tuple(shapes), texts, is_known))


def _gauge(head: float, bore: float, point: GaugePoint) -> tuple[Shape, ...]:
    axis = Axis(X, head)
    return (
        Shape("slide", _tip(axis, -16, -bore, 6)),
        Shape("body", _tip(axis, 16, bore, 6)),
        Shape("body", rectangle(X - 8, 96, X + 8, head - 10)),
        Shape("body", rectangle(X - 14, 92, X + 14, 126)),
        Shape("body", rectangle(X - 20, head - 14, X + 20, head + 12)),
        Shape("body", circle(X, head, 5)),
        *parts.dial(X, 50, 44, 0.0 if point.is_zero else 0.9 * point.share),
    )
