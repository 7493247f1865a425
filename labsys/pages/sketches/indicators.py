"""Dial gauges: with a plunger on a stand over a block, and with a lever that lies along the surface."""

from __future__ import annotations

from labsys.pages.sketches import parts
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Axis, Shape, Sketch, Text, circle, line, polygon, rectangle

PLATE, X = parts.PLATE, 180.0
COLUMN = 396.0

_PLUNGER = (
    "The plunger stands square to the block; travel is always from the same side, without turning back."
)
_LEVER = "The lever lies along the surface, at the most 15° from it, and moves square to it."
_ZERO = "The contact rests on the setting face and the dial is turned to zero."


def indicator(point: GaugePoint) -> Sketch:
    """Draw a dial gauge with a plunger, over a block."""
    top = 236 - (0 if point.is_zero else 52 * point.share)
    gauge = (
        Shape("slide", rectangle(X - 5, 12, X + 5, 34)),
        Shape("slide", rectangle(X - 4, 150, X + 4, top - 9)),
        Shape("slide", polygon([(X - 7, top - 20), (X + 7, top - 20), (X + 4, top - 8), (X - 4, top - 8)])),
        Shape("slide", circle(X, top - 5, 5)),
        Shape("body", rectangle(X, 136, COLUMN + 16, 152)),
        Shape("body", rectangle(X - 9, 110, X + 9, 168)),
        Shape("body", rectangle(X - 18, 132, X + 18, 156)),
        *parts.dial(X, 78, 50, _turn(point)),
    )
    return _finish(point, ("Dial gauge", _PLUNGER), gauge, (X, top))


def lever_indicator(point: GaugePoint) -> Sketch:
    """Draw a lever-type dial gauge, over a block."""
    lever = Axis(X - 34, 182, 10 - (10 if point.is_zero else 20 * point.share))
    x, y = lever.at(104)
    gauge = (
        Shape("slide", lever.polygon([(0, -5), (98, -2), (98, 2), (0, 5)])),
        Shape("slide", circle(x, y, 7)),
        Shape("body", polygon([(X - 58, 118), (X - 10, 118), (X - 18, 176), (X - 26, 192), (X - 44, 192)])),
        Shape("body", circle(*lever.at(0), 5)),
        Shape("line", line((X - 26, 182), (X + 150, 182))),
        Shape("body", rectangle(X, 70, COLUMN + 16, 84)),
        *parts.dial(X - 34, 78, 46, _turn(point)),
    )
    return _finish(point, ("Lever-type dial gauge", _LEVER), gauge, (x, y + 7))


def _turn(point: GaugePoint) -> float:
    return 0.0 if point.is_zero else point.share * 0.9


def _finish(
    point: GaugePoint, words: tuple[str, str], gauge: tuple[Shape, ...], spot: tuple[float, float]
) -> Sketch:
    """Put the gauge on its stand over the block, and mark where it touches."""
    x, top = spot
    is_known = point.place in ("", "middle", "centre")
    shapes = [
        *parts.plate(20, 480),
        *_stand(),
        Shape("reference", rectangle(x - 62, top, x + 62, PLATE)),
        *gauge,
    ]
    if is_known:
        shapes += [Shape("place", line((x - 26, top), (x + 26, top))), *parts.target(x, top)]
    shapes += parts.way(x - 50 if words[1] == _PLUNGER else x + 50, top - 34, point.direction)
    how = _ZERO if point.is_zero else words[1]
    return finish(point, Picture(words[0], how, tuple(shapes), _labels(point, x, top), is_known))


def _stand() -> tuple[Shape, ...]:
    return (
        Shape("body", rectangle(COLUMN - 8, 20, COLUMN + 8, 232)),
        Shape("body", polygon([
            (COLUMN - 52, PLATE), (COLUMN - 52, 240), (COLUMN - 40, 230), (COLUMN + 44, 230), (COLUMN + 56, 240),
            (COLUMN + 56, PLATE),
        ])),
    )  # fmt: skip


def _labels(point: GaugePoint, x: float, top: float) -> tuple[Text, ...]:
    return (
        *label(x, (top + PLATE) / 2 + 12, point.reference_text, "middle"),
        *label(x + 72, top + 6, point.where.words),
    )
