"""The gauge block with its five places, and the bar with steps."""

from __future__ import annotations

from labsys.pages.sketches import parts
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Shape, Sketch, Text, circle, line, polygon, rectangle

# The measuring face from above: 35 mm and 9 mm long; the corners lie 1.5 mm from the sides.
LEFT, RIGHT, TOP, BOTTOM, ASIDE = 36.0, 316.0, 26.0, 98.0, 12.0
FOOT = 252.0

# Steps lie at uneven distances, so that no period of a scale hides; the faces that look right, from face 0.
ZERO_FACE, FIRST, REACH, STEP = 44.0, 14.0, 412.0, 26.0
STEPS = (0.15, 0.24, 0.38, 0.5, 0.67, 0.81, 1.0)
BAR_TOP, BAR = 122.0, 172.0

_BLOCK = (
    "The two contacts touch the block at one place after the other, with the reference before and after. "
    "Corners are counted clockwise from the top left."
)
_BAR = (
    "The jaws close on face 0 and on the face of the step, square to the bar, which lies on its two supports."
)
_BAR_INSIDE = "The jaws open between the two faces, square to the bar, which lies on its two supports."
_ZERO = "The contacts are set on the reference."


def _places() -> dict[str, tuple[float, float]]:
    middle = ((LEFT + RIGHT) / 2, (TOP + BOTTOM) / 2)
    corners = [(LEFT, TOP), (RIGHT, TOP), (RIGHT, BOTTOM), (LEFT, BOTTOM)]
    moved = [(x + (ASIDE if x == LEFT else -ASIDE), y + (ASIDE if y == TOP else -ASIDE)) for x, y in corners]
    named = {f"corner-{n}": spot for n, spot in enumerate(moved, start=1)}
    return {"": middle, "centre": middle, "middle": middle, **named}


def block(point: GaugePoint) -> Sketch:
    """Draw a gauge block: its face with the five places above, between the contacts of a comparator below."""
    places = _places()
    spot = places.get(point.place)
    top = FOOT - 26 - 54 * point.share
    x, y = spot or places["centre"]
    shapes = [
        Shape("body", rectangle(LEFT, TOP, RIGHT, BOTTOM)),
        Shape("line", "".join(circle(*one, 3) for one in places.values())),
        Shape("body", rectangle(LEFT, top, RIGHT, FOOT)),
        Shape("reference", rectangle(356, top, 428, FOOT)),
    ]
    if spot:
        shapes += [
            Shape("slide", polygon([(x - 9, 128), (x + 9, 128), (x + 9, top - 14), (x, top), (x - 9, top - 14)])),
            Shape("slide", polygon([(x - 9, 292), (x + 9, 292), (x + 9, FOOT + 14), (x, FOOT), (x - 9, FOOT + 14)])),
            *parts.target(x, y),
            Shape("place", rectangle(x - 12, top - 1, x + 12, top + 1) + rectangle(x - 12, FOOT - 1, x + 12, FOOT + 1)),
        ]  # fmt: skip
    texts = (
        *_numbers(places),
        *label(336, 68, point.where.words),
        *label(392, 284, point.reference_text, "middle"),
    )
    how = _ZERO if point.is_zero else _BLOCK
    return finish(point, Picture("Gauge block", how, tuple(shapes), texts, spot is not None))


def _numbers(places: dict[str, tuple[float, float]]) -> tuple[Text, ...]:
    """Number the corners inwards of their places."""
    spots = [(n, places[f"corner-{n}"]) for n in (1, 2, 3, 4)]
    return tuple(Text(x + (24 if n in (1, 4) else -24), y + 6, str(n), "middle") for n, (x, y) in spots)


def check_bar(point: GaugePoint) -> Sketch:
    """Draw a bar with steps from the side, and which two faces are measured."""
    place = point.where
    is_inside = point.says("inside")
    named = {f"step-{n}": face for n, face in enumerate(STEPS, start=1)}
    is_known = point.place in ("", "outside", "inside", "middle", *named)
    step = named.get(point.place, min(STEPS, key=lambda one: abs(one - point.share)))
    left = ZERO_FACE + (FIRST if is_inside else 0)
    right = ZERO_FACE + REACH * step - (STEP if is_inside else 0)
    shapes = [*_bar()]
    if is_known:
        shapes += _jaws(left, right, is_inside=is_inside)
    if point.reference_text:
        shapes.append(Shape("reference", rectangle(left, 238, right, 262)))
    middle = (left + right) / 2
    texts = (*label(middle, 28, place.words, "middle"), *label(middle, 288, point.reference_text, "middle"))
    how = _ZERO if point.is_zero else _BAR_INSIDE if is_inside else _BAR
    return finish(point, Picture("Check bar", how, tuple(shapes), texts, is_known))


def _bar() -> tuple[Shape, ...]:
    end = ZERO_FACE + REACH
    steps = [(ZERO_FACE, ZERO_FACE + FIRST)]
    steps += [(ZERO_FACE + REACH * step - STEP, ZERO_FACE + REACH * step) for step in STEPS]
    outline = [(ZERO_FACE - 16, BAR + 40), (ZERO_FACE - 16, BAR)]
    for left, right in steps:
        outline += [(left, BAR), (left, BAR_TOP), (right, BAR_TOP), (right, BAR)]
    outline += [(end + 16, BAR), (end + 16, BAR + 40)]
    # Supported at 0.22 of its length from each end, where it bends least.
    feet = [ZERO_FACE + share * REACH for share in (0.22, 0.78)]
    return (
        Shape("body", polygon(outline)),
        *(Shape("body", polygon([(x, BAR + 40), (x + 11, BAR + 58), (x - 11, BAR + 58)])) for x in feet),
    )


def _jaws(left: float, right: float, *, is_inside: bool) -> tuple[Shape, ...]:
    """Draw the two jaws on their faces, the marks and the distance between."""
    wide = min(13.0, (right - left) / 2 - 2) if is_inside else -13.0
    return (
        Shape("body", rectangle(left, 62, left + wide, BAR_TOP + 38)),
        Shape("slide", rectangle(right - wide, 62, right, BAR_TOP + 38)),
        Shape(
            "place",
            line((left, 40), (left, 54)) + line((right, 40), (right, 54)) + line((left, 47), (right, 47)),
        ),
        *parts.squeeze(BAR_TOP + 22, left, right, 26),
    )
