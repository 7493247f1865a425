"""The faces of a micrometer: how parallel they stand, with a plate between them, and how flat they are, by bands."""

from __future__ import annotations

from labsys.pages.sketches import parts
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import (
    Axis,
    Shape,
    Sketch,
    Spot,
    circle,
    clock,
    line,
    polygon,
    rectangle,
)

# Where the parts lie, in pixels.
Y, FACE, HALF = 150.0, 104.0, 33.0
BESIDE, RADIUS = (428.0, 118.0), 50.0
SEEN, FLAT, ROUND = (338.0, 146.0), 132.0, 104.0
UPRIGHT, LEVEL = 92.0, 150.0

_PARALLEL = (
    "The plane-parallel plate is closed on with the ratchet; the bands on both faces are counted and added."
)
_PARTLY = "A narrow block touches the faces at one spot after the other; the readings are compared."
_ANGLES = "Seen from the front, 0° is at the top and angles run clockwise."
_FLATNESS = (
    "The optical flat lies on the clean face without pressure. A straight line joins both ends of one band: "
    "count how many bands it crosses, or what part of the way to the next one it goes."
)


def parallelism(point: GaugePoint) -> Sketch:
    """Draw plate or block between the faces, with the angle of the thimble or the spot on the face."""
    place = point.where
    is_spot = place.name in ("edge", "centre")
    is_known = is_spot or place.name in ("", "middle")
    thick = 44 + 110 * point.share
    y, half = _height(point) if is_spot else (Y, 104.0)
    shapes = [
        Shape("body", Axis(0, Y).bar(24, FACE, HALF)),
        Shape("slide", Axis(0, Y).bar(FACE + thick, FACE + thick + 80, HALF)),
        Shape("line", "".join(line((x, Y - HALF), (x, Y + HALF)) for x in (FACE - 14, FACE + thick + 14))),
        Shape("reference", _plate(FACE, y - half, FACE + thick, y + half)),
    ]
    if is_known:
        shapes += parts.squeeze(y, FACE, FACE + thick, min(half, HALF) + 6)
    if is_spot:
        shapes += parts.face(BESIDE, RADIUS, place.name, place.angle)
    else:
        shapes += parts.thimble(BESIDE, RADIUS, place.angle if place.is_angle else None)
    how = f"{_PARTLY if is_spot else _PARALLEL} {_ANGLES}"
    texts = (
        *label(BESIDE[0], BESIDE[1] + RADIUS + 26, place.words, "middle"),
        *label(FACE + thick / 2, min(y + half + 26, 284), point.reference_text, "middle"),
    )
    return finish(point, Picture("Micrometer, parallelism", how, tuple(shapes), texts, is_known))


def _height(point: GaugePoint) -> tuple[float, float]:
    angle = point.where.angle
    return (Y if angle is None else clock(0, Y, HALF - 10, angle)[1]), 10.0


def _plate(left: float, top: float, right: float, bottom: float) -> str:
    cut = 5.0
    return polygon([
        (left + cut, top), (right - cut, top), (right, top + cut), (right, bottom - cut), (right - cut, bottom),
        (left + cut, bottom), (left, bottom - cut), (left, top + cut),
    ])  # fmt: skip


def flatness(point: GaugePoint) -> Sketch:
    """Draw the optical flat on a face from the side, and the bands as seen from above."""
    is_spindle = point.says("spindle")
    is_known = point.place in ("", "anvil", "spindle", "centre", "middle")
    shapes = [
        Shape("slide" if is_spindle else "body", rectangle(UPRIGHT - 30, LEVEL, UPRIGHT + 30, 282)),
        Shape("reference", _plate(UPRIGHT - 66, LEVEL - 26, UPRIGHT + 66, LEVEL)),
        *_light(),
        Shape("reference", circle(*SEEN, FLAT)),
        Shape("body", circle(*SEEN, ROUND)),
        *(Shape("slide", _band(height)) for height in (-80, -40, 0, 40)),
    ]
    if is_known:
        shapes += parts.contact(UPRIGHT, LEVEL, -90, 36)
        shapes.append(Shape("place", Axis(*SEEN).bar(-ROUND - 16, ROUND + 16, 1)))
    face = point.where.words or ("spindle" if is_spindle else "anvil")
    texts = (
        *label(UPRIGHT, 228, face, "middle"),
        *label(UPRIGHT, 112, point.reference_text, "middle"),
    )
    return finish(point, Picture("Micrometer, flatness of a face", _FLATNESS, tuple(shapes), texts, is_known))


def _light() -> tuple[Shape, ...]:
    ways = [Axis(UPRIGHT + aside, 28, 90) for aside in (-36, 0, 36)]
    heads = "".join(one.polygon([(50, 0), (40, -4), (40, 4)]) for one in ways)
    return (Shape("line", "".join(one.line((0, 0), (40, 0)) for one in ways) + heads),)


def _band(height: float) -> str:
    """Give one dark band across the face, a little bowed as on a face that is worn at its edge."""
    upper: list[Spot] = []
    lower: list[Spot] = []
    for step in range(-20, 21):
        along = step / 20
        bow = height + 26 * (1 - along * along)
        reach = (ROUND - 3) * along
        for side, aside in ((upper, bow - 5), (lower, bow + 5)):
            if reach * reach + aside * aside < (ROUND - 2) ** 2:
                side.append((SEEN[0] + reach, SEEN[1] + aside))
    return polygon([*upper, *reversed(lower)])
