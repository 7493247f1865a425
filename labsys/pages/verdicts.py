"""The verdict as a mark in a field: the corridor's shape on a grid of 24 units, with its word."""

from __future__ import annotations

from dataclasses import dataclass

from labsys.pages.corridor import VERDICTS, UnknownVerdict, marks, words

FIELDS = {
    "in_tolerance": "state-use",
    "not_accepted": "state-limit",
    "conditional_inside": "state-limit",
    "not_decided": "state-limit",
    "conditional_outside": "state-stop",
    "out_of_tolerance": "state-stop",
}


@dataclass(frozen=True)
class VerdictMark:
    """How one verdict is shown; ``stroke`` is the width of a hollow shape's line, 0 where the shape is solid."""

    word: str
    field: str
    shape: str
    stroke: float


def mark(verdict: str | None) -> VerdictMark:
    """Give the mark of a verdict, or of its absence; raises UnknownVerdict for any other word."""
    if verdict is not None and verdict not in VERDICTS:
        raise UnknownVerdict(found=verdict, known=", ".join(VERDICTS))
    # Half a disc is moved to the middle of its field.
    centre = 15.5 if verdict in marks.HALF_DISCS else 12
    drawn = marks.place(verdict, x=centre, y=12, radius=8, outward=1)
    field = FIELDS[verdict] if verdict else "state-plain"
    return VerdictMark(word=words.verdict_word(verdict), field=field, shape=drawn.path, stroke=drawn.stroke)
