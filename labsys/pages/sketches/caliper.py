"""The caliper at each of its measuring functions: jaws closed on a reference, the place on the faces marked."""

from __future__ import annotations

from dataclasses import dataclass

from labsys.errors import LabError
from labsys.pages.sketches.shapes import Shape, Sketch, Text, circle, polygon, rectangle, scale_ticks

FUNCTIONS = ("outside", "inside", "depth", "step", "small_bore", "zero")
PLACES = ("near_beam", "middle", "tips")

# Where the parts of the drawn caliper lie, in pixels.
HEAD, FACE = 40.0, 92.0
BEAM_TOP, BEAM_BOTTOM, BEAM_END = 104.0, 140.0, 470.0
JAW_BOTTOM, JAW_TOP = 272.0, 28.0
NARROWEST, WIDEST = 40.0, 250.0
OUTSIDE_Y = {"near_beam": 164.0, "middle": 202.0, "tips": 246.0}
INSIDE_Y = {"near_beam": 88.0, "middle": 68.0, "tips": 46.0}

_HOW = {
    "outside": "The outside faces close on the reference. Rock it slightly; the smallest reading counts.",
    "inside": "The inside jaws open in the reference. Between flat faces the smallest reading counts both ways.",
    "depth": "The end of the beam is seated; the rod goes down until it just touches.",
    "step": "Head and slide are both seated on the two levels; do not rock.",
    "small_bore": "The crossed knife-edges stand in a small ring. Largest across, smallest along.",
    "zero": "The outside faces are wiped and closed on each other, with nothing between them.",
}


class UnknownSketch(LabError, ValueError):
    """A function, place or reference that no sketch is made for."""

    code = "unknown-sketch"
    sentence = "There is no sketch for {what} “{found}”; choose one of {known}."


@dataclass(frozen=True)
class CaliperPoint:
    """What to draw: function, place on the faces, how far open (0 to 1 of the range), the reference's shape."""

    function: str
    place: str | None = None
    opening: float = 0.4
    reference: str = "block"
    reference_text: str = ""

    def __post_init__(self) -> None:
        """Refuse what can't be drawn."""
        places = (*PLACES, None)
        known = (("function", self.function, FUNCTIONS), ("place", self.place, places))
        for what, found, choices in (*known, ("reference", self.reference, ("block", "pin", "ring"))):
            if found not in choices:
                raise UnknownSketch(
                    what=what, found=found, known=", ".join(str(one) for one in choices if one)
                )

    @property
    def gap(self) -> float:
        """Give the drawn distance of the faces in pixels."""
        return NARROWEST + (WIDEST - NARROWEST) * min(max(self.opening, 0.0), 1.0)


def draw(point: CaliperPoint) -> Sketch:
    """Draw one point's sketch."""
    drawing = {
        "outside": _outside,
        "inside": _inside,
        "depth": _depth,
        "step": _step,
        "small_bore": _small_bore,
        "zero": _zero,
    }
    shapes, texts = drawing[point.function](point)
    place = point.place.replace("_", " ") if point.place else ""
    function = point.function.replace("_", " ")
    title = f"Caliper, {function}" + (f", {place}" if place else "")
    parts = [_HOW[point.function]]
    if point.reference_text:
        parts.append(f"Reference: {point.reference_text}.")
    if place:
        parts.append(f"Marked on the faces: {place}.")
    return Sketch(title=title, description=" ".join(parts), shapes=tuple(shapes), texts=tuple(texts))


def _frame(gap: float) -> list[Shape]:
    """Draw beam with scale, fixed jaws, and the slide with its jaws at a distance."""
    at = FACE + gap
    fixed = [
        (HEAD, BEAM_TOP - 12), (FACE, BEAM_TOP - 12), (FACE, JAW_TOP + 6), (FACE + 6, JAW_TOP),
        (FACE + 22, BEAM_TOP - 12), (FACE + 22, BEAM_BOTTOM), (FACE, BEAM_BOTTOM + 4), (FACE, JAW_BOTTOM),
        (FACE - 12, JAW_BOTTOM), (HEAD, BEAM_BOTTOM + 40),
    ]  # fmt: skip
    slide = [
        (at - 22, BEAM_TOP - 12), (at - 6, JAW_TOP), (at, JAW_TOP + 6), (at, BEAM_TOP - 12),
        (at + 112, BEAM_TOP - 12), (at + 112, BEAM_BOTTOM + 14), (at + 48, BEAM_BOTTOM + 14),
        (at + 40, BEAM_BOTTOM + 40), (at + 12, JAW_BOTTOM), (at, JAW_BOTTOM), (at, BEAM_BOTTOM + 4),
        (at - 22, BEAM_BOTTOM),
    ]  # fmt: skip
    return [
        Shape("body", rectangle(HEAD + 10, BEAM_TOP, BEAM_END, BEAM_BOTTOM)),
        Shape("line", scale_ticks(FACE + 24, BEAM_END - 8, BEAM_BOTTOM)),
        Shape("body", polygon(fixed)),
        Shape("slide", polygon(slide)),
        Shape("body", rectangle(at + 30, BEAM_TOP - 4, at + 98, BEAM_BOTTOM - 10)),
    ]


def _outside(point: CaliperPoint) -> tuple[list[Shape], list[Text]]:
    # A pin is drawn no thicker than the jaws are long.
    gap = min(point.gap, 110.0) if point.reference == "pin" else point.gap
    y = OUTSIDE_Y[point.place or "middle"]
    left, right = FACE, FACE + gap
    shapes = _frame(gap)
    if point.reference == "pin":
        y = max(y, BEAM_BOTTOM + 6 + gap / 2)
        shapes.append(Shape("reference", circle((left + right) / 2, y, gap / 2)))
    else:
        shapes.append(Shape("reference", rectangle(left, y - 17, right, y + 17)))
    shapes.append(Shape("place", f"M{left:.1f} {y - 22:.1f}v44M{right:.1f} {y - 22:.1f}v44"))
    return shapes, _labels(point, x=right + 62, y=y + 6, inside_x=(left + right) / 2, inside_y=y + 6)


def _inside(point: CaliperPoint) -> tuple[list[Shape], list[Text]]:
    gap, y = max(point.gap, 80.0), INSIDE_Y[point.place or "middle"]
    left, right = FACE, FACE + gap
    shapes = [
        Shape("reference", rectangle(left - 40, y - 16, left, y + 10)),
        Shape("reference", rectangle(right, y - 16, right + 40, y + 10)),
        *_frame(gap),
        Shape("place", f"M{left:.1f} {y - 20:.1f}v34M{right:.1f} {y - 20:.1f}v34"),
    ]
    return shapes, _labels(point, x=right + 52, y=y + 3, inside_x=(left + right) / 2, inside_y=20)


def _depth(point: CaliperPoint) -> tuple[list[Shape], list[Text]]:
    end, tip = 230.0, 230.0 + 0.6 * point.gap
    shapes = [
        Shape("body", rectangle(HEAD, BEAM_TOP, end, BEAM_BOTTOM)),
        Shape("line", scale_ticks(HEAD + 8, end - 8, BEAM_BOTTOM)),
        Shape("slide", rectangle(HEAD + 20, BEAM_TOP - 14, HEAD + 120, BEAM_BOTTOM + 16)),
        Shape("body", rectangle(HEAD + 36, BEAM_TOP - 4, HEAD + 104, BEAM_BOTTOM - 8)),
        Shape("body", rectangle(end, 116, tip, 128)),
        Shape("reference", polygon([
            (end, 60), (tip + 50, 60), (tip + 50, 190), (end, 190), (end, 150), (tip, 150), (tip, 94), (end, 94),
        ])),
        Shape("place", f"M{end:.1f} 54v46M{end:.1f} 144v52M{tip:.1f} 108v28"),
        Shape("arrow", f"M{end:.1f} 216H{tip:.1f}M{end:.1f} 208v16M{tip:.1f} 208v16"),
    ]  # fmt: skip
    return shapes, _labels(point, x=end, y=250, inside_x=(end + tip) / 2, inside_y=244)


def _step(point: CaliperPoint) -> tuple[list[Shape], list[Text]]:
    low, high = 150.0, 150.0 + 0.6 * point.gap
    shapes = [
        Shape("body", rectangle(high, 116, BEAM_END, 152)),
        Shape("line", scale_ticks(high + 130, BEAM_END - 8, 152)),
        Shape("body", rectangle(low, 152, low + 70, 200)),
        Shape("body", rectangle(low + 20, 116, high + 40, 152)),
        Shape("slide", polygon([
            (high, 76), (high + 116, 76), (high + 116, 164), (high + 20, 164), (high + 20, 116), (high, 116),
        ])),
        Shape("body", rectangle(high + 40, 88, high + 104, 112)),
        Shape("reference", polygon([(60, 50), (high, 50), (high, 110), (low, 110), (low, 230), (60, 230)])),
        Shape("place", f"M{high:.1f} 70v46M{low:.1f} 146v60"),
        Shape("arrow", f"M{low:.1f} 246H{high:.1f}M{low:.1f} 238v16M{high:.1f} 238v16"),
    ]  # fmt: skip
    return shapes, _labels(point, x=low, y=280, inside_x=(low + high) / 2, inside_y=276)


def _small_bore(point: CaliperPoint) -> tuple[list[Shape], list[Text]]:
    x, y, bore = 250.0, 150.0, 70.0
    shapes = [
        Shape("reference", circle(x, y, 118.0) + circle(x, y, bore).replace("0 1 0", "0 1 1")),
        # Seen from the end of the jaws: two blades side by side, each touching its own wall.
        Shape("body", polygon([(x - bore, y - 3), (x - 20, y - 24), (x + 28, y - 24), (x + 28, y - 3)])),
        Shape("slide", polygon([(x + bore, y + 3), (x + 20, y + 24), (x - 28, y + 24), (x - 28, y + 3)])),
        Shape("place", f"M{x - bore:.1f} {y - 16:.1f}v32M{x + bore:.1f} {y - 16:.1f}v32"),
        Shape("place", f"M{x - 96:.1f} {y - 96:.1f}A136 136 0 0 1 {x + 96:.1f} {y - 96:.1f}", dashed=True),
        Shape("arrow", f"M{x + 96:.1f} {y - 96:.1f}l-13 -2l9 -10z"),
    ]
    return shapes, _labels(point, x=392, y=154, inside_x=x, inside_y=296)


def _zero(point: CaliperPoint) -> tuple[list[Shape], list[Text]]:
    low, high = OUTSIDE_Y["near_beam"] - 12, OUTSIDE_Y["tips"] + 22
    shapes = [*_frame(0.0), Shape("place", f"M{FACE:.1f} {low:.1f}V{high:.1f}")]
    return shapes, _labels(point, x=FACE + 62, y=206, inside_x=FACE + 150, inside_y=246)


def _labels(point: CaliperPoint, *, x: float, y: float, inside_x: float, inside_y: float) -> list[Text]:
    """Write the place beside the faces and the reference on itself."""
    texts = []
    if point.place:
        texts.append(Text(x, y, point.place.replace("_", " ")))
    if point.reference_text:
        texts.append(Text(inside_x, inside_y, point.reference_text, "middle"))
    return texts
