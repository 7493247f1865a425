"""The standing of a gauge as a mark: the corridor in little, on a grid of 24 units.

Always a field with its shape and its word. What the standing is, `recall` derives; here is only its look.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Standing(StrEnum):
    """What the shop floor may do with a gauge."""

    USE = "use"
    USE_WITH_RESTRICTION = "use_with_restriction"
    DO_NOT_USE = "do_not_use"


@dataclass(frozen=True)
class StandingMark:
    """How one standing is shown; ``shape`` and ``dashed`` are paths on the 24-unit grid, ``field`` a class."""

    standing: Standing
    word: str
    field: str
    shape: str
    dashed: str = ""


_WALL = "M2 3h2v18h-2z"
_FAR_WALL = "M20 3h2v18h-2z"
# Five pieces of the right wall with gaps between them.
_FAR_WALL_DASHED = "M20 3h2v4h-2zM20 10h2v4h-2zM20 17h2v4h-2z"
_DISC = "M12 5.5a6.5 6.5 0 1 1 0 13a6.5 6.5 0 1 1 0-13z"
_HALF_DISC = "M12 5.5a6.5 6.5 0 0 0 0 13z"
# The gap is full: one block, wound the other way round where the bar is knocked out of it.
_BLOCK = "M2 3h20v18h-20zM6 10v4h12v-4z"

MARKS: dict[Standing, StandingMark] = {
    Standing.USE: StandingMark(Standing.USE, "use", "state-use", _WALL + _FAR_WALL + _DISC),
    Standing.USE_WITH_RESTRICTION: StandingMark(
        Standing.USE_WITH_RESTRICTION,
        "use with restriction",
        "state-limit",
        _WALL + _HALF_DISC + _FAR_WALL_DASHED,
    ),
    Standing.DO_NOT_USE: StandingMark(Standing.DO_NOT_USE, "do not use", "state-stop", _BLOCK),
}


def mark(standing: str) -> StandingMark:
    """Give the mark of a standing, named by its value (``use``, ``use_with_restriction``, ``do_not_use``).

    Raises ValueError for any other word: an unknown standing must never look like a known one.
    """
    return MARKS[Standing(standing.replace(" ", "_"))]
