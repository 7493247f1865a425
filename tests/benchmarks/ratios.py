"""Measuring calls against each other in one run, and saying what came out.

Lives here: what several benchmark files share. May not live here: budgets.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable


def fastest(
    repeats: int, *calls: Callable[[], object], clock: Callable[[], float] = time.process_time
) -> list[float]:
    """Give the least seconds of each of several calls, taken in turn so that a busy machine slows all alike.

    The process's own time, because a call longer than a slice of it would always be interrupted by the neighbours;
    calls that wait for another process name another ``clock``.
    """
    least = [math.inf] * len(calls)
    for _ in range(repeats):
        for place, call in enumerate(calls):
            start = clock()
            call()
            least[place] = min(least[place], clock() - start)
    return least


def say(text: str) -> None:
    """Print a line; it is what a benchmark is run for."""
    print(f"\n{text}")  # noqa: T201
