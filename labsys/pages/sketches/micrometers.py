"""The micrometer for outside sizes, closed on its reference; the spot on the faces is shown from the front too."""

from __future__ import annotations

from labsys.pages.sketches import parts
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Axis, Shape, Sketch, Text, clock, line, rectangle

# Where the parts lie, in pixels.
Y, FACE, ARM_END = 92.0, 112.0, 262.0
NARROWEST, TRAVEL = 14.0, 78.0
FRONT, RADIUS = (350.0, 226.0), 46.0

_FRAME = (
    "M70 68H96Q100 68 100 74V116C100 184 128 208 159 208C190 208 218 184 218 116V68H256Q262 68 262 76V112"
    "C262 212 216 262 159 262C98 262 58 208 58 112V80Q58 68 70 68z"
)
_GRIP = "M78 168C90 212 120 243 159 243C198 243 230 212 243 168M92 160C104 198 128 226 159 226C190 226 216 198 226 160"

_HOW = "The block is swung lightly while the ratchet closes the faces; the smallest reading counts."
_ZERO = (
    "The faces are wiped and closed with the ratchet, with nothing between them or on the setting standard."
)
_EDGE = "Only a part of the faces touches. Seen from the front, 0° is at the top and angles run clockwise."


def outside(point: GaugePoint) -> Sketch:
    """Draw the micrometer for outside sizes."""
    gap = 0.0 if point.is_closed else NARROWEST + TRAVEL * point.share
    place = point.where
    is_edge = place.name in ("edge", "centre")
    is_known = is_edge or place.name in ("", "middle")
    shapes = [*_instrument(gap)]
    if gap:
        shapes += _between(point, gap)
    if is_known:
        y, half = _spot(point)
        shapes += parts.squeeze(y, FACE, FACE + gap, half + 5)
    if is_edge:
        shapes += parts.face(FRONT, RADIUS, place.name, place.angle)
    elif place.is_angle:
        shapes += parts.thimble(FRONT, RADIUS, place.angle)
    how = _ZERO if point.is_zero else f"{_HOW} {_EDGE}" if is_edge else _HOW
    return finish(point, Picture("Micrometer", how, tuple(shapes), _labels(point, gap), is_known))


def _instrument(gap: float) -> tuple[Shape, ...]:
    axis = Axis(0, Y)
    return (
        Shape("slide", axis.bar(FACE + gap, ARM_END, 12)),
        Shape("body", axis.bar(92, FACE, 12)),
        Shape("body", _FRAME),
        Shape("line", _GRIP),
        Shape("body", axis.bar(ARM_END, ARM_END + 10, 18)),
        *parts.head(Axis(ARM_END + 10, Y), 8 + gap),
    )


def _spot(point: GaugePoint) -> tuple[float, float]:
    """Give the height of the reference on the faces and half its own."""
    angle = point.where.angle
    if point.is_zero or point.where.name not in ("edge", "centre"):
        return Y, 17.0
    return (Y, 5.0) if angle is None else (clock(0, Y, 8, angle)[1], 5.0)


def _between(point: GaugePoint, gap: float) -> tuple[Shape, ...]:
    y, half = _spot(point)
    middle = FACE + gap / 2
    return (
        Shape("reference", rectangle(FACE, y - half, FACE + gap, y + half)),
        *([Shape("line", line((middle, y - half), (middle, 50)))] if point.reference_text else []),
    )


def _labels(point: GaugePoint, gap: float) -> tuple[Text, ...]:
    where = label(FRONT[0] - RADIUS, FRONT[1] - 58, point.where.words)
    return (*where, *label(FACE + gap / 2, 44, point.reference_text, "middle"))
