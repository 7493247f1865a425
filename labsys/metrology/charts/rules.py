"""Run rules: patterns of several values in a row that are too rare to be chance.

Lives here: the patterns, the named sets of them, and where they show. May not live here: single limits (baseline.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Final, TypeAlias

from labsys.metrology.charts.baseline import ON_THE_LIMIT
from labsys.metrology.fits.series import series

Holds: TypeAlias = Callable[[Sequence[float]], bool]


class RuleSet(StrEnum):
    """Sets of run rules by the document that names them (wording and numbers from memory)."""

    WESTERN_ELECTRIC = "western_electric"
    ISO_8258 = "iso_8258"
    ISO_7870_2 = "iso_7870_2"


@dataclass(frozen=True, slots=True)
class Pattern:
    """One pattern: seen in up to ``length`` values that end with the newest, given in spreads from the centre."""

    name: str
    length: int
    holds: Holds


@dataclass(frozen=True, slots=True)
class Signal:
    """A pattern that is complete with the value at ``index`` (from 0), and the first value that belongs to it."""

    pattern: str
    index: int
    first: int


def _beyond(share: int, length: int, limit: float) -> Pattern:
    """Make “``share`` of ``length`` on one side beyond ``limit``”, the newest among them."""

    def holds(z: Sequence[float]) -> bool:
        edge = limit * (1 + ON_THE_LIMIT)
        return any(side * z[-1] > edge and sum(side * one > edge for one in z) >= share for side in (1, -1))

    name = f"{share} of {length} beyond {limit:g} s on one side" if length > 1 else f"one beyond {limit:g} s"
    return Pattern(name, length, holds)


def _whole(name: str, length: int, holds: Holds) -> Pattern:
    """Make a pattern that needs all of its values."""
    return Pattern(name, length, lambda z: len(z) == length and holds(z))


def _one_side(length: int) -> Pattern:
    return _whole(
        f"{length} in a row on one side of the centre",
        length,
        lambda z: any(all(side * one > ON_THE_LIMIT for one in z) for side in (1, -1)),
    )


def _trend(length: int) -> Pattern:
    return _whole(
        f"{length} in a row rising or falling",
        length,
        lambda z: any(all(side * (b - a) > ON_THE_LIMIT for a, b in pairwise(z)) for side in (1, -1)),
    )


def _alternates(z: Sequence[float]) -> bool:
    steps = [b - a for a, b in pairwise(z)]
    return all(a * b < 0 and min(abs(a), abs(b)) > ON_THE_LIMIT for a, b in pairwise(steps))


PATTERNS: Final[dict[RuleSet, tuple[Pattern, ...]]] = {
    # Statistical Quality Control Handbook (1956), section I B
    RuleSet.WESTERN_ELECTRIC: (_beyond(1, 1, 3), _beyond(2, 3, 2), _beyond(4, 5, 1), _one_side(8)),
    # ISO 8258:1991, figure 2: tests 1 to 8, those of Nelson (1984)
    RuleSet.ISO_8258: (
        _beyond(1, 1, 3),
        _one_side(9),
        _trend(6),
        _whole("14 in a row alternating up and down", 14, _alternates),
        _beyond(2, 3, 2),
        _beyond(4, 5, 1),
        _whole("15 in a row within 1 s", 15, lambda z: all(abs(one) < 1 - ON_THE_LIMIT for one in z)),
        _whole(
            "8 in a row beyond 1 s on either side", 8, lambda z: all(abs(one) > 1 + ON_THE_LIMIT for one in z)
        ),
    ),
    # ISO 7870-2:2013, pattern tests; its fourth, any obviously non-random pattern, is for the eye
    RuleSet.ISO_7870_2: (_beyond(1, 1, 3), _one_side(7), _trend(7)),
}


def signals(z: Sequence[float], rules: RuleSet) -> tuple[Signal, ...]:
    """Find every pattern of ``rules`` in values given in spreads from the frozen centre, in their order.

    A value on a line or on the centre is on neither side of it. A pattern signals at each value that completes it.
    Raises SeriesUnusable.
    """
    given = series(z, "values").tolist()
    found = []
    for index in range(len(given)):
        for pattern in PATTERNS[rules]:
            first = max(0, index + 1 - pattern.length)
            if pattern.holds(given[first : index + 1]):
                found.append(Signal(pattern.name, index, first))
    return tuple(found)
