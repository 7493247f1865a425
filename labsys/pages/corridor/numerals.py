"""The numerals of a corridor: at the walls, at zero, at the mark where the axis is broken; kept apart."""

from __future__ import annotations

from collections.abc import Sequence

from labsys.pages.corridor import marks, scale, words
from labsys.pages.corridor.data import Box, CorridorData
from labsys.pages.corridor.parts import EDGE, Text, Wall
from labsys.pages.figures import with_unit

# Widths of the page's type in em, for keeping numerals inside the box: tabular figures and signs, and all the rest.
WIDE, NARROW = 0.5, 0.3


def numerals(
    data: CorridorData, axis: scale.Scale, walls: tuple[Wall, Wall], mark: marks.Mark
) -> tuple[Text, ...]:
    """Give every numeral of a picture, each with its place; none where the box has no room for them."""
    frame = axis.box
    if not frame.font:
        return ()
    found = []
    limits = [
        (wall, words.limit_text(data, limit))
        for wall, limit in zip(walls, (data.lower_mm, data.upper_mm), strict=True)
        if limit is not None
    ]
    for number, (wall, text) in enumerate(limits):
        # The unit stands once, after the last number, and does not pull the number off its wall.
        whole = with_unit(text, data.unit) if number == len(limits) - 1 else text
        left = wall.x - width(text, frame.font) / 2
        found.append(Text(inside(left, whole, frame), frame.label_y, whole))
    found = _apart(found, frame)
    found.extend(_zero_text(axis, found, unit="" if limits else data.unit))
    if axis.low or axis.high:
        text = words.beyond_text(data, error_is_beyond=not axis.is_straight(data.number(data.error_mm)))
        found.append(Text(inside(mark.x - width(text, frame.font) / 2, text, frame), frame.note_y, text))
    return tuple(found)


def _zero_text(axis: scale.Scale, others: Sequence[Text], *, unit: str) -> list[Text]:
    """Give the numeral of the zero line where no other numeral is near; it has the unit where it stands alone."""
    if not axis.is_straight(0.0):
        return []
    font = axis.box.font
    text = with_unit("0", unit)
    zero = Text(inside(axis.x(0.0) - width("0", font) / 2, text, axis.box), axis.box.label_y, text)
    end = zero.x + width(text, font)
    free = all(end + font < text.x or zero.x > text.x + width(text.text, font) + font for text in others)
    return [zero] if free else []


def _apart(labels: list[Text], frame: Box) -> list[Text]:
    """Move the two numbers at the walls apart where they would touch."""
    if len(labels) < 2:
        return labels
    first, second = labels
    overlap = first.x + width(first.text, frame.font) + frame.font / 2 - second.x
    if overlap <= 0:
        return labels
    apart = width(first.text, frame.font) + frame.font / 2
    start = inside(second.x + overlap / 2, second.text, frame)
    return [
        Text(inside(start - apart, first.text, frame), first.y, first.text),
        Text(start, second.y, second.text),
    ]


def width(text: str, font: float) -> float:
    """Estimate the width of a numeral in pixels, rather too wide than too narrow."""
    return sum(NARROW if sign in ".\N{NO-BREAK SPACE}i" else WIDE for sign in text.replace("m", "mm")) * font


def inside(left: float, text: str, frame: Box) -> float:
    """Give the left end moved so far that the text stays inside the box."""
    return round(max(EDGE, min(left, frame.width - EDGE - width(text, frame.font))), 2)
