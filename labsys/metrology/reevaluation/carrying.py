"""Carrying changes of standards into results: y′ = y + Σ c·Δ, level by level, in whole picometres.

Lives here: Δ at the time of use, and the sums. May not live here: the order of results (ordering.py), verdicts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from labsys.metrology.arrays.blocks import BLOCK, blocks
from labsys.metrology.reevaluation.ordering import Level
from labsys.metrology.reevaluation.tables import (
    BILLION,
    NO_DAY,
    ChangeArrays,
    ChangeTooLarge,
    UseArrays,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LARGEST_IN_A_FLOAT: Final = 1 << 52
MOST_PM: Final = 10**12
"""Largest change of a standard or a result, 1 m; times a million days it still is a whole number of 64 bits."""


def changes_at_use(
    uses: UseArrays, days: NDArray[np.int64], changes: ChangeArrays
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give Δ (pm) for every use of a changed standard: the whole of it, and interpolated in time.

    Before the standard was last known good it is zero; interpolated it grows evenly from there to the day it was
    found, and is whole from then on, or where nobody knows when it was good. Zero for uses of a result, whose change
    comes later. Raises ChangeTooLarge.
    """
    import numpy as np

    refuse_large(changes.deltas_pm)
    whole, in_time = np.zeros((2, len(uses.results)), np.int64)
    for part in blocks(len(whole), 2 * BLOCK) if len(changes.deltas_pm) else ():
        place, is_changed = uses.sources[part], uses.sources[part] < len(changes.deltas_pm)
        if not bool(is_changed.all()):
            place = np.where(is_changed, place, 0)
        good, found = changes.good_days[place], changes.found_days[place]
        since = days[uses.results[part]] - good
        counts = is_changed & (since >= 0)
        whole[part] = np.where(counts, changes.deltas_pm[place], 0)
        length = found - good
        span = np.maximum(length, 1)
        # A use on the day it was found counts whole, also where that is the day it was last good.
        elapsed = np.where((since >= length) | (good == NO_DAY), span, since)
        in_time[part] = divide_half_even(whole[part] * elapsed, span)
    return whole, in_time


def carry(
    levels: Sequence[Level], uses: UseArrays, at_use: NDArray[np.int64], *, changes: int, results: int
) -> NDArray[np.int64]:
    """Give the change of every result in whole picometres, ``at_use`` being Δ of each use of a changed standard.

    A sum with broken sensitivities is rounded half to even at each result, because that is what a result keeps.
    Raises ChangeTooLarge.
    """
    import numpy as np

    moved = np.zeros(results, np.int64)
    for level in levels:
        sources, deltas = uses.sources[level.uses], at_use[level.uses]
        rests_on = sources - changes
        if bool((rests_on >= 0).any()):
            deltas = np.where(rests_on >= 0, moved[np.maximum(rests_on, 0)], deltas)
        moved[level.results] = _sums(level, uses, deltas)
        refuse_large(moved)
    return moved


def divide_half_even(dividend: NDArray[np.int64], divisor: NDArray[np.int64] | int) -> NDArray[np.int64]:
    """Divide whole numbers by positive ones, exactly, and round half to even."""
    import numpy as np

    if dividend.dtype != object and np.abs(dividend).max(initial=0) < LARGEST_IN_A_FLOAT:
        # The quotient's unit of the last place stays under 1/divisor, so that no half is made or lost.
        return np.rint(dividend / divisor).astype(np.int64)
    quotient = dividend // divisor
    twice = 2 * (dividend - quotient * divisor)
    found: NDArray[np.int64] = quotient + ((twice > divisor) | ((twice == divisor) & (quotient % 2 == 1)))
    return found


def refuse_large(values_pm: NDArray[np.int64]) -> None:
    """Refuse changes beyond 1 m, before a sum can leave the range of whole numbers."""
    if len(values_pm) and not -MOST_PM <= values_pm.min() <= values_pm.max() <= MOST_PM:
        raise ChangeTooLarge(most=MOST_PM // BILLION)


def _sums(level: Level, uses: UseArrays, deltas: NDArray[np.int64]) -> NDArray[np.int64]:
    """Add c·Δ up for each result of a level."""
    import numpy as np

    whole = uses.sensitivities[level.uses]
    is_single = len(level.starts) == len(deltas)
    most_uses = 1 if is_single else int(np.diff(level.starts, append=len(deltas)).max())
    most = int(np.abs(deltas).max(initial=0)) * most_uses
    if int(np.abs(whole).max(initial=0)) * most >= 1 << 62:
        raise ChangeTooLarge(most=MOST_PM // BILLION)
    found = _added(whole * deltas, level)
    if uses.billionths is None:
        return found
    parts = uses.billionths[level.uses]
    if BILLION * most < 1 << 62:
        return found + divide_half_even(_added(parts * deltas, level), BILLION)
    exact = divide_half_even(_added(parts.astype(object) * deltas.astype(object), level), BILLION)
    return found + exact.astype(np.int64)


def _added(values: NDArray[np.int64], level: Level) -> NDArray[np.int64]:
    import numpy as np

    return values if len(level.starts) == len(values) else np.add.reduceat(values, level.starts)
