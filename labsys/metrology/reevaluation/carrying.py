"""Carrying changes of standards into results: y′ = y + Σ c·Δ, level by level, in whole picometres.

Lives here: Δ at the time of use, and the sums. May not live here: the order of results (ordering.py), verdicts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from labsys.metrology.reevaluation.ordering import Level, Part
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


def carry(
    levels: Sequence[Level], uses: UseArrays, days: NDArray[np.int64], changes: ChangeArrays
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give the change of every result (pm), measured on ``days``: with the whole Δ, and with Δ interpolated in time.

    Before a standard was last known good its Δ is zero; interpolated it grows evenly from there to the day it was
    found, and is whole from then on, or where nobody knows when it was good. A sum with broken sensitivities is
    rounded half to even at each result, because that is what a result keeps. Raises ChangeTooLarge.
    """
    import numpy as np

    refuse_large(changes.deltas_pm)
    worst, in_time = np.zeros((2, len(days)), np.int64)
    for level in levels:
        for part in level.parts():
            rests_on = uses.sources[part.uses] - len(changes.deltas_pm)
            on_result = rests_on >= 0
            at_use = _changes_at_use(rests_on, days[uses.results[part.uses]], changes)
            for moved, deltas in zip((worst, in_time), at_use, strict=True):
                if bool(on_result.any()):
                    deltas = np.where(on_result, moved[np.maximum(rests_on, 0)], deltas)
                found = _sums(part, uses, deltas)
                refuse_large(found)
                moved[part.results] = found
    return worst, in_time


def _changes_at_use(
    rests_on: NDArray[np.int64], used_on: NDArray[np.int64], changes: ChangeArrays
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give Δ for uses of changed standards (counted from minus their number), whole and interpolated; 0 for results."""
    import numpy as np

    if not len(changes.deltas_pm):
        return np.zeros_like(used_on), np.zeros_like(used_on)
    place = np.minimum(rests_on, -1)  # from the end, as numpy counts
    good, found = changes.good_days[place], changes.found_days[place]
    since, length = used_on - good, found - good
    whole = np.where((rests_on < 0) & (since >= 0), changes.deltas_pm[place], 0)
    span = np.maximum(length, 1)
    # A use on the day it was found counts whole, also where that is the day it was last good.
    elapsed = np.where((since >= length) | (good == NO_DAY), span, since)
    return whole, divide_half_even(whole * elapsed, span)


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


def _sums(part: Part, uses: UseArrays, deltas: NDArray[np.int64]) -> NDArray[np.int64]:
    """Add c·Δ up for each result of a part."""
    import numpy as np

    whole = uses.sensitivities[part.uses]
    most_uses = 1 if part.starts is None else int(np.diff(part.starts, append=len(deltas)).max())
    most = int(np.abs(deltas).max()) * most_uses
    if int(np.abs(whole).max()) * most >= 1 << 62:
        raise ChangeTooLarge(most=MOST_PM // BILLION)
    found = _added(whole * deltas, part)
    if uses.billionths is None:
        return found
    broken = uses.billionths[part.uses]
    if BILLION * most < 1 << 62:
        return found + divide_half_even(_added(broken * deltas, part), BILLION)
    exact = divide_half_even(_added(broken.astype(object) * deltas.astype(object), part), BILLION)
    return found + exact.astype(np.int64)


def _added(values: NDArray[np.int64], part: Part) -> NDArray[np.int64]:
    import numpy as np

    return values if part.starts is None else np.add.reduceat(values, part.starts)
