"""Looking along time for the moment at which something ends.

Lives here: the search and the check of limits that drift and crossing share. May not live here: what is looked for.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from labsys.errors import LabError

GRID = 400
"""Steps in which a time is looked for before it is halved in on, so that the first crossing is found."""
MOST_DOUBLINGS = 40
"""A time beyond the longest one seen times 2⁴⁰ counts as never."""


class LimitsCrossed(LabError, ValueError):
    """Limits that leave nothing between them, or none at all."""

    code = "drift-limits-crossed"
    sentence = "Expected a lower limit below the upper one, found {lower} and {upper}. Correct the limits."


def last_time(holds: Callable[[float], bool], longest: float) -> float:
    """Find the first time from 0 on at which ``holds`` ends: 0 where it never held, infinity where it doesn't end.

    Looks in ``GRID`` steps up to ``longest``, then over ever doubled spans, and halves in to the last bit.
    """
    if not holds(0.0):
        return 0.0
    begin, end = 0.0, longest
    for _ in range(MOST_DOUBLINGS):
        step = (end - begin) / GRID
        for index in range(1, GRID + 1):
            if not holds(begin + index * step):
                return _halved(holds, begin + (index - 1) * step, begin + index * step)
        begin, end = end, 2 * end
    return math.inf


def _halved(holds: Callable[[float], bool], inside: float, outside: float) -> float:
    while True:
        middle = inside + (outside - inside) / 2
        if middle in (inside, outside):
            return inside
        if holds(middle):
            inside = middle
        else:
            outside = middle


def refuse_crossed(lower: float | None, upper: float | None) -> None:
    """Raise LimitsCrossed unless there's a limit, and room between two."""
    if lower is None and upper is None:
        raise LimitsCrossed(lower="none", upper="none")
    if lower is not None and upper is not None and not lower < upper:
        raise LimitsCrossed(lower=lower, upper=upper)
