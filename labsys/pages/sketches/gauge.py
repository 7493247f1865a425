"""What a sketch of any gauge is drawn from, and how its picture gets a name and a description in words.

Lives here: the point, the place as people write it, the labels. May not live here: the form of any one gauge.
"""

from __future__ import annotations

from dataclasses import dataclass

from labsys.pages.sketches.shapes import WIDTH, Shape, Sketch, Text

# A letter of the sketch's type is about so wide, in pixels of the box; what would run out of the box is moved in.
LETTER, MARGIN = 8.4, 6.0

_WORDS = {"near_beam": "near the beam", "far": "far end"}
_TURNED = ("angle", "thimble")
_DIRECTIONS = {"up": "The reading is taken going up.", "down": "The reading is taken coming down."}


@dataclass(frozen=True)
class GaugePoint:
    """What to draw: which drawing, the place on it, the direction, how far open, the reference in words.

    ``function`` is "zero" for the zero reading. ``place`` is a code such as "entry/90", "edge-90", "corner-2",
    "middle" or ""; ``direction`` is "up", "down" or "". ``opening`` is the share of the range, 0 to 1.
    """

    drawing: str
    function: str = ""
    place: str = ""
    direction: str = ""
    opening: float = 0.4
    reference_text: str = ""

    @property
    def is_zero(self) -> bool:
        """Say whether the zero is read, with nothing between the faces."""
        return self.function == "zero"

    @property
    def is_closed(self) -> bool:
        """Say whether the zero is read on the faces themselves, and not on a reference."""
        return self.is_zero and not self.reference_text

    @property
    def share(self) -> float:
        """Give the opening, no less than closed and no more than the range."""
        return min(max(self.opening, 0.0), 1.0)

    @property
    def where(self) -> Place:
        """Give the place taken apart."""
        return place_of(self.place)

    def says(self, *words: str) -> bool:
        """Say whether the place or the function holds one of the words."""
        spoken = f"{self.place}_{self.function}".lower()
        return any(word in spoken for word in words)


@dataclass(frozen=True)
class Place:
    """A place taken apart: its name, its number, its angle in degrees, and all of it in words."""

    name: str = ""
    number: int | None = None
    angle: float | None = None
    words: str = ""

    @property
    def is_angle(self) -> bool:
        """Say whether it is an angle alone."""
        return self.angle is not None and not self.name


def place_of(code: str) -> Place:
    """Take a place apart: entry/90 is entry, 90°; edge-180 is edge at 180°; corner-2 is corner 2.

    A bare number, angle-90 and thimble-90 are an angle alone.
    """
    name, slash, angle = code.partition("/")
    if slash and name and angle:
        ending = f"{angle}°" if angle.isdigit() else angle.replace("_", " ")
        return Place(name, None, _degrees(angle), f"{place_of(name).words}, {ending}")
    name, dash, number = code.partition("-")
    if dash and number.isdigit():
        word = name.replace("_", " ")
        if name in _TURNED:
            return Place("", None, _degrees(number), f"{word} at {number}°")
        if name == "edge":
            return Place(name, None, _degrees(number), f"{word} at {number}°")
        return Place(name, int(number), None, f"{word} {number}")
    if code.isdigit():
        return Place("", None, _degrees(code), f"{code}°")
    words = code.replace("_", " ").replace("-", " ").strip()
    return Place(code, words=_WORDS.get(code, words or code))


def _degrees(text: str) -> float | None:
    return float(int(text) % 360) if text.isdigit() else None


@dataclass(frozen=True)
class Picture:
    """A gauge as drawn: its name, what to do there in words, its forms and labels; is the place among them?"""

    name: str
    how: str
    shapes: tuple[Shape, ...]
    texts: tuple[Text, ...] = ()
    is_marked: bool = True


def finish(point: GaugePoint, picture: Picture) -> Sketch:
    """Give a picture its title and description, which name place, reference and direction."""
    words = point.where.words
    zero = "zero" if point.is_zero else ""
    parts = [picture.how]
    if point.reference_text:
        parts.append(f"Reference: {point.reference_text}.")
    if words:
        parts.append(
            f"Marked: {words}." if picture.is_marked else f"Measure at: {words} (not in the drawing)."
        )
    if point.direction in _DIRECTIONS:
        parts.append(_DIRECTIONS[point.direction])
    return Sketch(
        title=", ".join(part for part in (picture.name, zero, words) if part),
        description=" ".join(parts),
        shapes=picture.shapes,
        texts=picture.texts,
    )


def label(x: float, y: float, text: str, anchor: str = "start") -> tuple[Text, ...]:
    """Write words where they fit into the box; nothing for no words.

    Words longer than the box are cut with an ellipsis: the description says them whole.
    """
    if not text:
        return ()
    most = int((WIDTH - 2 * MARGIN) / LETTER)
    shown = text if len(text) <= most else f"{text[: most - 1]}…"
    before = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * len(shown) * LETTER
    after = len(shown) * LETTER - before
    return (Text(round(min(max(x, MARGIN + before), WIDTH - MARGIN - after), 1), y, shown, anchor),)
