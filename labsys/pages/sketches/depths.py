"""Gauges for depth: a base on two equal stacks over a plate, the rod down between them."""

from __future__ import annotations

from labsys.pages.sketches import parts
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Axis, Shape, Sketch, Text, polygon, rectangle

# Where the parts lie, in pixels: the middle of the rod, half the base, the base's underside.
X, HALF, SEAT = 200.0, 128.0, 186.0
INNER, OUTER = 60.0, 112.0

_HOW = (
    "The base is pressed down on two equal stacks without rocking; the rod goes down until it just touches."
)
_ZERO = (
    "The base stands on the clean plate and the rod is let down on the same plate; or both on the reference."
)


def depth_gauge(point: GaugePoint) -> Sketch:
    """Draw a depth gauge: the beam goes down through the base and the head with its scale."""
    depth = _depth(point)
    end = SEAT + depth
    beam = (
        Shape("slide", rectangle(X - 11, end - 180, X + 11, end)),
        Shape("line", parts.upright_scale(X - 11, end - 172, end - 12)),
    )
    clamp = (
        Shape("body", rectangle(X - 42, SEAT - 80, X + 42, SEAT - 26)),
        Shape("line", rectangle(X - 30, SEAT - 70, X + 30, SEAT - 42)),
    )
    return _finish(point, "Depth gauge", (*beam, _base(), *clamp), depth)


def depth_micrometer(point: GaugePoint) -> Sketch:
    """Draw a depth micrometer: the thimble goes down with the rod."""
    depth = _depth(point)
    up = Axis(X, SEAT - 26, -90)
    rod = Shape("slide", rectangle(X - 6, SEAT - 20, X + 6, SEAT + depth))
    clamp = Shape("body", up.bar(0, 8, 18))
    return _finish(point, "Depth micrometer", (rod, _base(), clamp, *parts.head(up, 54 - 0.5 * depth)), depth)


def _depth(point: GaugePoint) -> float:
    return 0.0 if point.is_closed else 26 + 52 * point.share


def _base() -> Shape:
    left, right, top = X - HALF, X + HALF, SEAT - 26
    return Shape("body", polygon([
        (left, SEAT), (left, top + 12), (left + 40, top), (right - 40, top), (right, top + 12), (right, SEAT),
    ]))  # fmt: skip


def _finish(point: GaugePoint, name: str, gauge: tuple[Shape, ...], depth: float) -> Sketch:
    """Set the gauge on its stacks, mark the end of the rod and the base, and write beside them."""
    floor = SEAT + depth
    is_known = point.place in ("", "middle", "centre", "left", "right")
    sides = {"left": (-1,), "right": (1,)}.get(point.place, (-1, 1))
    shapes = [*parts.plate(24, 376, floor), *gauge]
    if depth:
        shapes += [Shape("reference", rectangle(*_stack(side, floor))) for side in (-1, 1)]
    if is_known:
        shapes += parts.contact(X, floor, 90, 22)
        for side in sides:
            shapes += parts.contact(X + side * (INNER + OUTER) / 2, SEAT, 90, (OUTER - INNER) / 2)
    shapes += parts.way(420, SEAT, point.direction)
    how = _ZERO if point.is_zero else _HOW
    return finish(point, Picture(name, how, tuple(shapes), _labels(point, floor), is_known))


def _stack(side: int, floor: float) -> tuple[float, float, float, float]:
    left, right = sorted((X + side * INNER, X + side * OUTER))
    return left, SEAT, right, floor


def _labels(point: GaugePoint, floor: float) -> tuple[Text, ...]:
    beside = label(X + OUTER + 24, min((SEAT + floor) / 2 + 8, floor - 9), point.reference_text)
    return (*label(X + OUTER + 24, 120, point.where.words), *beside)
