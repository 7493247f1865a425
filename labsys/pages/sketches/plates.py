"""The surface plate from above, with the lines that a level runs along."""

from __future__ import annotations

from math import atan2, degrees

from labsys.pages.sketches import parts
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Axis, Shape, Sketch, Spot, line, rectangle

LEFT, TOP, RIGHT, BOTTOM = 24.0, 14.0, 372.0, 242.0
ASIDE, CELLS = 18.0, 6

_HOW = (
    "The level is moved along each line by its own foot's length; the lines close on each other at the corners. "
    "Lines 1 to 4 are the sides clockwise from the top, 5 and 6 the diagonals, 7 and 8 the middle ones; corners "
    "are counted clockwise from the top left."
)
_ZERO = "The level rests on the first place of the line and is set to zero."


def _lines() -> dict[str, tuple[Spot, Spot]]:
    """Give the eight lines: the sides clockwise from the top, the diagonals, the middle ones."""
    left, top, right, bottom = LEFT + ASIDE, TOP + ASIDE, RIGHT - ASIDE, BOTTOM - ASIDE
    x, y = (left + right) / 2, (top + bottom) / 2
    ends: tuple[tuple[Spot, Spot], ...] = (
        ((left, top), (right, top)),
        ((right, top), (right, bottom)),
        ((left, bottom), (right, bottom)),
        ((left, top), (left, bottom)),
        ((left, top), (right, bottom)),
        ((left, bottom), (right, top)),
        ((left, y), (right, y)),
        ((x, top), (x, bottom)),
    )
    return {f"line-{n}": one for n, one in enumerate(ends, start=1)}


def _spots() -> dict[str, Spot]:
    lines = _lines()
    corners = [*lines["line-1"], *reversed(lines["line-3"])]
    middle = (lines["line-8"][0][0], lines["line-7"][0][1])
    return {"centre": middle, "middle": middle} | {
        f"corner-{n}": spot for n, spot in enumerate(corners, start=1)
    }


def surface_plate(point: GaugePoint) -> Sketch:
    """Draw a surface plate with its grid; a line or a spot of it marked, with the level on it."""
    lines, spots = _lines(), _spots()
    grid = "".join(line((x, TOP), (x, BOTTOM)) for x in _steps(LEFT, RIGHT, CELLS))
    grid += "".join(line((LEFT, y), (RIGHT, y)) for y in _steps(TOP, BOTTOM, CELLS - 2))
    shapes = [
        Shape("body", rectangle(LEFT, TOP, RIGHT, BOTTOM)),
        Shape("body", rectangle(LEFT, BOTTOM, RIGHT, BOTTOM + 22)),
        Shape("line", grid),
        Shape("slide", "".join(line(*ends) for ends in lines.values())),
    ]
    marked = lines.get(point.place or "line-5")
    is_known = marked is not None or point.place in spots
    if marked:
        shapes += _marked(marked, point.share)
    elif is_known:
        shapes += _spot(spots[point.place], spots["centre"])
    texts = (*label(386, 60, point.where.words), *label(LEFT, BOTTOM + 45, point.reference_text))
    how = _ZERO if point.is_zero else _HOW
    return finish(point, Picture("Surface plate", how, tuple(shapes), texts, is_known))


def _steps(start: float, end: float, count: int) -> list[float]:
    return [start + (end - start) * n / count for n in range(1, count)]


def _marked(ends: tuple[Spot, Spot], share: float) -> tuple[Shape, ...]:
    """Mark a line and set the level on it, as far along as the share says."""
    (x1, y1), (x2, y2) = ends
    along = 0.12 + 0.76 * share
    place = (x1 + along * (x2 - x1), y1 + along * (y2 - y1))
    return (
        Shape("place", line(*ends)),
        *(Shape("arrow", rectangle(x - 5, y - 5, x + 5, y + 5)) for x, y in ends),
        *_level(place, degrees(atan2(y2 - y1, x2 - x1))),
    )


def _spot(spot: Spot, middle: Spot) -> tuple[Shape, ...]:
    """Mark a spot and set the level beside it, towards the middle of the plate."""
    toward = degrees(atan2(middle[1] - spot[1], middle[0] - spot[0]))
    return (*parts.target(*spot), *_level(Axis(*spot, toward).at(52), toward))


def _level(place: Spot, turned: float) -> tuple[Shape, ...]:
    level = Axis(*place, turned)
    return (
        Shape("slide", level.bar(-34, 34, 13)),
        Shape("reference", level.bar(-18, 18, 6)),
        Shape("line", level.line((-5, -6), (-5, 6)) + level.line((5, -6), (5, 6))),
    )
