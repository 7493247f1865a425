"""What a plan is made of: points in their order with their references and reasons.

Lives here: the records. May not live here: how they are found (proposing.py, of_series.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class PlannedPoint:
    """One point: where in the order, which function, where on the faces, the nominal length in mm, with what, why.

    ``elements`` holds the id of each element of a standard and how often it is used; ``member`` is the id of the piece
    of a set that is measured.
    """

    sequence: int
    function: str
    place: str
    nominal_mm: Decimal
    elements: tuple[tuple[int, int], ...]
    why: str
    direction: str = ""
    member: int | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """The points that can be taken, and in sentences what could not be planned."""

    points: tuple[PlannedPoint, ...]
    missing: tuple[str, ...]
