"""Thin leaves: the feeler between two faces, and the radius gauge against its radius."""

from __future__ import annotations

from labsys.pages.sketches import parts
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Axis, Shape, Sketch, arc, circle, clock, line, rectangle

# The leaf from above, in pixels: where it leaves its holder, its free end; below it, its middle from the side.
ROOT, TIP, Y, SIDE = 108.0, 452.0, 74.0, 200.0

# The corner that the radius is drawn about.
CENTRE = (258.0, 166.0)

# A contact with its end taken off all round, from its tip.
_ROUNDED = [(0.0, -4.0), (8.0, -12.0), (50.0, -12.0), (50.0, 12.0), (8.0, 12.0), (0.0, 4.0)]

_FEELER = (
    "The leaf lies flat between the faces, which touch it with the smallest force; never bend or press it in. "
    "Places are counted from the free end."
)
_RADIUS = "Against the light, no gap may show along the whole radius, neither at its middle nor at its ends."
_ZERO = "The faces are closed on each other, without the leaf."


def feeler(point: GaugePoint) -> Sketch:
    """Draw a feeler's leaf from above and between two contacts from the side."""
    thick = 0.0 if point.is_closed else 3 + 9 * point.share
    share = _along(point)
    x = TIP - (TIP - ROOT) * (0.5 if share is None else share)
    shapes = [
        Shape(
            "slide",
            f"M{ROOT:.1f} {Y - 26:.1f}H{TIP - 26:.1f}A26 26 0 0 1 {TIP - 26:.1f} {Y + 26:.1f}H{ROOT:.1f}z",
        ),
        Shape("body", f"M{ROOT + 6:.1f} {Y - 34:.1f}H58A34 34 0 0 0 58 {Y + 34:.1f}H{ROOT + 6:.1f}z"),
        Shape("line", circle(58, Y, 10) + circle(58, Y, 4)),
    ]
    if thick:
        shapes.append(Shape("slide", rectangle(ROOT - 72, SIDE - thick, TIP, SIDE + thick)))
    shapes += _contacts(x, thick)
    if share is not None:
        shapes += parts.pinch(x, SIDE - thick, SIDE + thick, 24)
    if share is not None and thick:
        shapes += parts.target(x, Y)
        shapes.append(Shape("place", line((x, Y + 13), (x, 126)), dashed=True))
    if point.reference_text:
        shapes.append(Shape("reference", rectangle(36, 276 - 2 * thick - 4, 96, 276)))
    texts = (*label(x, 30, point.where.words, "middle"), *label(106, 278, point.reference_text))
    how = _ZERO if point.is_zero else _FEELER
    return finish(point, Picture("Feeler gauge", how, tuple(shapes), texts, share is not None))


def _along(point: GaugePoint) -> float | None:
    """Give how far from the free end the place lies; places with a number are six along the leaf."""
    place = point.where
    if place.number is not None and place.name in ("place", "point") and 1 <= place.number <= 6:
        return 0.1 + 0.16 * (place.number - 1)
    return parts.SECTIONS.get(point.place)


def _contacts(x: float, thick: float) -> tuple[Shape, ...]:
    return (
        Shape("slide", Axis(x, SIDE - thick, -90).polygon(_ROUNDED)),
        Shape("body", Axis(x, SIDE + thick, 90).polygon(_ROUNDED)),
    )


def radius_gauge(point: GaugePoint) -> Sketch:
    """Draw a radius gauge against its reference: the hollow leaf on a pin, the round one in a corner."""
    radius = 44 + 56 * point.share
    is_convex = point.says("convex")
    is_known = point.place in ("", "convex", "concave", "middle")
    shapes = [*(_convex(radius) if is_convex else _concave(radius))]
    if is_known:
        shapes += _touched(radius)
    x, y = (CENTRE[0], CENTRE[1]) if not is_convex else (110.0, 60.0)
    texts = (
        *label(24, 250, point.where.words),
        *label(x, y + 26, point.reference_text, "middle"),
    )
    name = f"Radius gauge, {'convex' if is_convex else 'concave'} leaf"
    return finish(point, Picture(name, _RADIUS, tuple(shapes), texts, is_known))


def _concave(radius: float) -> tuple[Shape, ...]:
    x, y = CENTRE
    return (
        Shape("reference", circle(x, y, radius)),
        Shape("line", line((x - 9, y), (x + 9, y)) + line((x, y - 9), (x, y + 9))),
        Shape("slide", f"{arc(CENTRE, radius, 270, 360)}V24H36A12 12 0 0 0 24 36V{y:.1f}z"),
        Shape("line", circle(64, 64, 11) + circle(64, 64, 5)),
    )


def _convex(radius: float) -> tuple[Shape, ...]:
    x, y = CENTRE
    end, foot = x + 190, y + 76
    return (
        Shape("reference", f"{arc(CENTRE, radius, 270, 360)}H{x + 90:.1f}V24H24V{y + 40:.1f}H{x - radius:.1f}z"),
        Shape("slide", f"{arc(CENTRE, radius, 270, 360)}H{end - 12:.1f}A12 12 0 0 1 {end:.1f} {y - radius + 12:.1f}"
              f"V{foot:.1f}H{x - radius:.1f}z"),
        Shape("line", circle(end - 40, foot - 40, 11) + circle(end - 40, foot - 40, 5)),
    )  # fmt: skip


def _touched(radius: float) -> tuple[Shape, ...]:
    """Mark the radius at its middle and towards both ends."""
    heads = [
        Axis(*clock(*CENTRE, radius, turn), turn - 90).polygon([(-5, 0), (-18, -7), (-18, 7)])
        for turn in (282, 315, 348)
    ]
    return (
        Shape("place", "".join(arc(CENTRE, radius + aside, 270, 360) for aside in (-1, 1))),
        *(Shape("arrow", one) for one in heads),
    )
