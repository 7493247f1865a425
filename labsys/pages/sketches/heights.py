"""The height gauge: the scriber on its reference, both on one plate."""

from __future__ import annotations

from labsys.pages.sketches import parts
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Shape, Sketch, polygon, rectangle

PLATE, NOSE = parts.PLATE, 348.0

_HOW = "Base and reference stand on one clean plate; the scriber comes down with even force until it just touches."
_ZERO = "The scriber comes down on the plate itself."


def height_gauge(point: GaugePoint) -> Sketch:
    """Draw a height gauge."""
    tip = PLATE if point.is_closed else PLATE - 26 - 108 * point.share
    is_known = point.place in ("", "middle", "centre")
    shapes = [*parts.plate(20, 480), *_stand(), *_slider(tip)]
    if tip < PLATE:
        shapes.append(Shape("reference", rectangle(NOSE - 40, tip, NOSE + 30, PLATE)))
    if is_known:
        shapes += parts.contact(NOSE - 12, tip, 90, 26)
    shapes += parts.way(NOSE + 66, tip - 30, point.direction)
    texts = (
        *label(NOSE + 40, (tip + PLATE) / 2 + 6, point.reference_text),
        *label(NOSE - 30, tip - 34, point.where.words),
    )
    how = _ZERO if point.is_zero else _HOW
    return finish(point, Picture("Height gauge", how, tuple(shapes), texts, is_known))


def _stand() -> tuple[Shape, ...]:
    return (
        Shape("body", polygon([(46, PLATE), (46, 236), (66, 222), (180, 222), (196, 236), (196, PLATE)])),
        Shape("body", rectangle(92, 12, 122, 222)),
        Shape("line", parts.upright_scale(92, 20, 216)),
        Shape("body", rectangle(86, 8, 128, 18)),
    )


def _slider(tip: float) -> tuple[Shape, ...]:
    return (
        Shape("slide", rectangle(80, tip - 104, 172, tip - 44)),
        Shape("body", rectangle(96, tip - 94, 156, tip - 66)),
        Shape("slide", rectangle(172, tip - 84, 208, tip - 18)),
        Shape("slide", polygon([
            (184, tip - 18), (NOSE - 66, tip - 18), (NOSE + 6, tip - 3), (NOSE + 6, tip), (184, tip),
        ])),
        Shape("body", rectangle(180, tip - 60, 200, tip - 34)),
    )  # fmt: skip
