"""Gauges that are round themselves: the plug with both its ends, and the ring."""

from __future__ import annotations

from labsys.pages.sketches import parts, rounds
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Axis, Shape, Sketch, Text, circle, line, rectangle

# The axis of the plug; its ends from their entries, in pixels; where it is seen from the front, and how large.
Y = 104.0
GO, NO_GO = (30.0, 196.0), (444.0, 344.0)
FRONT, RADIUS = (424.0, 244.0), 34.0

_PLUG = "The contacts close on the diameter at the section; the smallest reading of a slight swing counts."
_RING = "The contacts open in the bore at the section: the largest across the bore, the smallest along it."
_ZERO = "The contacts are set on the reference."


def plug(point: GaugePoint) -> Sketch:
    """Draw a plug gauge with its GO and NO-GO ends, touched at a section."""
    half = 26 + 18 * point.share
    is_no_go = point.says("no_go", "nogo", "no-go")
    is_known = rounds.knows(point) or point.where.name in ("go", "no_go", "nogo", "no")
    entry, end = NO_GO if is_no_go else GO
    x = entry + (end - entry) * parts.SECTIONS.get(point.where.name, 0.5)
    shapes = [*_plug(half), *_compared(point, half)]
    if is_known:
        shapes += [
            Shape("slide", rectangle(x - 9, Y - half - 40, x + 9, Y - half)),
            Shape("slide", rectangle(x - 9, Y + half, x + 9, Y + half + 40)),
            Shape("place", line((x, Y - half), (x, Y + half)), dashed=True),
            *parts.pinch(x, Y - half, Y + half, 14),
        ]
    shapes += [Shape("body", circle(*FRONT, RADIUS)), parts.cross(FRONT, RADIUS)]
    if is_known:
        shapes += parts.across(FRONT, RADIUS, rounds.angle_of(point))
    name = "Plug gauge, NO-GO end" if is_no_go else "Plug gauge, GO end"
    how = f"{_ZERO if point.is_zero else _PLUG} {rounds.ANGLES}"
    return finish(point, Picture(name, how, tuple(shapes), _plug_labels(point), is_known))


def _plug(half: float) -> tuple[Shape, ...]:
    axis, cut = Axis(0, Y), 5
    members = [
        axis.polygon([(entry, cut - half), (entry + side * cut, -half), (end, -half), (end, half),
                      (entry + side * cut, half), (entry, half - cut)])
        for (entry, end), side in ((GO, 1), (NO_GO, -1))
    ]  # fmt: skip
    return (
        *(Shape("body", path) for path in members),
        Shape("slide", axis.bar(GO[1], GO[1] + 10, 15)),
        Shape("slide", axis.bar(NO_GO[1] - 10, NO_GO[1], 15)),
        Shape("body", axis.bar(GO[1] + 10, NO_GO[1] - 10, 22)),
        Shape(
            "line",
            axis.line((GO[1] + 10, -10), (NO_GO[1] - 10, -10))
            + axis.line((GO[1] + 10, 11), (NO_GO[1] - 10, 11)),
        ),
    )


def _compared(point: GaugePoint, half: float) -> tuple[Shape, ...]:
    if not point.reference_text:
        return ()
    return (Shape("reference", rectangle(40, 282 - 2 * half, 112, 282)),)


def _plug_labels(point: GaugePoint) -> tuple[Text, ...]:
    return (
        Text(210, Y + 6, "GO"),
        Text(330, Y + 6, "NO-GO", "end"),
        *label(358, 250, point.where.words, "end"),
        *label(122, 278, point.reference_text),
    )


def ring(point: GaugePoint) -> Sketch:
    """Draw a ring gauge from the front and cut, touched at a section."""
    drawn = rounds.Ring((122, 132), 112, 46 + 40 * point.share, 362, 108, "body")
    angle = rounds.angle_of(point)
    is_known = rounds.knows(point)
    x, y = drawn.centre
    shapes = [*drawn.front(), *drawn.cut()]
    if is_known:
        rod = Axis(x, y, angle - 90)
        section = Axis(drawn.section(point.where.name), y, 90)
        for axis in (rod, section):
            shapes += [Shape("slide", circle(*axis.at(side * (drawn.bore - 8)), 8)) for side in (-1, 1)]
        shapes += parts.across(drawn.centre, drawn.bore, angle)
        shapes += drawn.marks(point.where.name)
    if point.reference_text:
        shapes.append(Shape("reference", circle(296, 210, 34) + circle(296, 210, 10 + 12 * point.share)))
    texts = (*label(416, 280, point.where.words, "middle"), *label(296, 280, point.reference_text, "end"))
    how = f"{_ZERO if point.is_zero else _RING} {rounds.ANGLES}"
    return finish(point, Picture("Ring gauge", how, tuple(shapes), texts, is_known))
