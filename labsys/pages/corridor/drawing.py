"""All coordinates of one corridor, in pixels of its box at scale 1."""

from __future__ import annotations

import math
from collections.abc import Sequence

from labsys.pages.corridor import marks, scale, words
from labsys.pages.corridor.data import Box, CorridorData, box
from labsys.pages.corridor.numerals import numerals
from labsys.pages.corridor.parts import EDGE, Corridor, Cut, Wall, Whisker

HATCH = 5.0  # pixels from stroke to stroke

# All that a PDF needs besides the picture's own attributes, which carry colours and type: no style sheet reaches
# inside the picture there.
CORRIDOR_PRINT_CSS = ".corridor { display: block; max-width: 100%; }"


def draw(data: CorridorData, *, box_name: str) -> Corridor:
    """Work out one picture; raises UnknownBox. Everything lies inside the box, whatever the values."""
    frame = box(box_name)
    axis = scale.fit(frame, anchors(data), _extent(data))
    walls = _walls(data, axis)
    middle = axis.middle
    mark_y, earlier_y = _lanes(frame, two=data.as_found is not None)
    error = data.number(data.error_mm)
    mark = marks.place(
        data.verdict, x=axis.x(error), y=mark_y, radius=frame.radius, outward=-1 if error < middle else 1
    )
    return Corridor(
        box=frame,
        title=words.title(data),
        description=words.description(data),
        share=axis.share,
        walls=walls,
        has_band=walls[0].exists or walls[1].exists,
        guard=_guard(data, axis, walls),
        acceptance=_acceptance(data, axis),
        ticks=scale.ticks(axis),
        zero=axis.x(0.0) if axis.is_straight(0.0) else None,
        cuts=tuple(_cut(gap.x, frame) for gap in (axis.low, axis.high) if gap),
        whisker=_whisker(data, axis, mark_y) if data.is_read else None,
        mark=mark,
        earlier=_earlier(data, axis, earlier_y),
        texts=numerals(data, axis, walls, mark),
        is_read=data.is_read,
    )


def _cut(x: float, frame: Box) -> Cut:
    """Give the two slanting strokes over the band, and the gap between them."""
    top, bottom, slant, half = frame.band_top, frame.band_bottom, frame.radius * 0.4, 2.5
    corners = (
        (x - half - slant, bottom),
        (x - half + slant, top),
        (x + half + slant, top),
        (x + half - slant, bottom),
    )
    a, b, c, d = (f"{round(left, 2)} {y}" for left, y in corners)
    return Cut(x=x, gap=f"M{a}L{b}L{c}L{d}z", strokes=f"M{a}L{b}M{d}L{c}")


def _extent(data: CorridorData) -> list[float]:
    """Give the values that the picture must show besides its walls."""
    error = data.number(data.error_mm)
    spread = data.number(data.U_mm) if data.U_mm is not None else 0.0
    found = [error - spread, error + spread]
    if data.as_found:
        found.append(data.number(data.as_found.error_mm))
    return found


def anchors(data: CorridorData) -> tuple[float, float]:
    """Give the two values that the band is laid between, in the shown unit; a missing limit is replaced for the scale.

    One limit alone is mirrored about zero, since an error's ideal is zero; where that gives no band, and where there is
    no limit at all, the values themselves give the width.
    """
    lower = None if data.lower_mm is None else data.number(data.lower_mm)
    upper = None if data.upper_mm is None else data.number(data.upper_mm)
    values = [*_extent(data), *(limit for limit in (lower, upper) if limit is not None)]
    spread = 2 * max(max(values) - min(values), max(abs(value) for value in values) * 1e-3, 1e-9)
    if lower is None and upper is None:
        reach = round_up(max(max(abs(value) for value in values), spread / 2))
        return -reach, reach
    if lower is None and upper is not None:
        return (-upper, upper) if upper > 0 else (upper - spread, upper)
    if upper is None and lower is not None:
        return (lower, -lower) if lower < 0 else (lower, lower + spread)
    assert lower is not None and upper is not None
    # Limits that coincide leave no band; the picture then widens about them.
    return (lower, upper) if upper > lower else (lower - spread / 2, lower + spread / 2)


def round_up(reach: float) -> float:
    """Give the next number whose ruler fills the picture; only where no limit says how wide it must be."""
    power = 10.0 ** math.floor(math.log10(reach))
    return power * next(step for step in (1, 1.5, 2, 3, 4, 6, 8, 12) if step * power >= reach)


def _walls(data: CorridorData, axis: scale.Scale) -> tuple[Wall, Wall]:
    left = Wall(EDGE, False) if data.lower_mm is None else Wall(axis.x(data.number(data.lower_mm)), True)
    far = axis.box.width - EDGE
    right = Wall(far, False) if data.upper_mm is None else Wall(axis.x(data.number(data.upper_mm)), True)
    return left, right


def _lanes(frame: Box, *, two: bool) -> tuple[float, float]:
    """Give the heights of the mark and of the earlier one; they share a line only where two don't fit."""
    height = frame.band_bottom - frame.band_top
    if not two or height < 2 * (frame.radius + frame.earlier_radius) - 1:
        return frame.middle_y, frame.middle_y
    return frame.band_bottom - frame.radius - 0.5, frame.band_top + frame.earlier_radius + 0.5


def _acceptance(data: CorridorData, axis: scale.Scale) -> tuple[float, ...]:
    """Give the pixels of the acceptance limits that lie elsewhere than the limits."""
    pairs = ((data.acceptance_lower_mm, data.lower_mm), (data.acceptance_upper_mm, data.upper_mm))
    return tuple(axis.x(data.number(inner)) for inner, limit in pairs if inner is not None and inner != limit)


def _guard(data: CorridorData, axis: scale.Scale, walls: tuple[Wall, Wall]) -> str:
    """Give the hatching between each limit and its acceptance limit as one path."""
    pairs = ((data.acceptance_lower_mm, walls[0]), (data.acceptance_upper_mm, walls[1]))
    found = []
    for inner, wall in pairs:
        if inner is not None and wall.exists:
            found.append(hatching(sorted((axis.x(data.number(inner)), wall.x)), axis.box))
    return "".join(found)


def hatching(between: Sequence[float], frame: Box) -> str:
    """Give strokes at 45°, cut off at the rectangle between two pixels and the band's edges."""
    left, right = between
    top, bottom = frame.band_top, frame.band_bottom
    strokes = []
    # A stroke x + y = c; the same c for every field, so that neighbouring fields fall in line.
    number = int((left + top) // HATCH) + 1
    while number * HATCH < right + bottom:
        c = number * HATCH
        start, end = max(left, c - bottom), min(right, c - top)
        if end > start:
            strokes.append(f"M{start:.2f} {c - start:.2f}L{end:.2f} {c - end:.2f}")
        number += 1
    return "".join(strokes)


def _whisker(data: CorridorData, axis: scale.Scale, y: float) -> Whisker | None:
    if data.U_mm is None:
        return None
    error, spread = data.number(data.error_mm), data.number(data.U_mm)
    start, end = axis.x(error - spread), axis.x(error + spread)
    if max(end - axis.x(error), axis.x(error) - start) < axis.box.radius + 3:
        return None  # It would hide behind the mark, and stumps of its caps would look like something else.
    return Whisker(start=start, end=end, y=y, cap=axis.box.cap)


def _earlier(data: CorridorData, axis: scale.Scale, y: float) -> marks.Mark | None:
    if data.as_found is None:
        return None
    error = data.number(data.as_found.error_mm)
    outward = -1 if error < axis.middle else 1
    radius = axis.box.earlier_radius
    return marks.place(data.as_found.verdict, x=axis.x(error), y=y, radius=radius, outward=outward)
