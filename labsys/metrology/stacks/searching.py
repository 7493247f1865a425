"""Which of many sizes add up to a length, each used once: every answer of a given count, by meeting in the middle.

Lives here: whole numbers and arrays. May not live here: blocks, preferences (building.py).

The sums of the first few and of the last few sizes of a subset are matched, so that five of 112 cost one pass over the
227 920 sums of three instead of the 134 million subsets. A subset is met once only: its lower part has lower places
than its upper part.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from labsys.errors import LabError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_COUNT: Final = 6
_SPREAD: Final = 0x9E3779B97F4A7C15
"""Odd multiplier that scatters sums over the high bits (2⁶⁴ over the golden ratio)."""


MOST_MATCHES: Final = 20_000_000
"""Pairs of partial sums looked at in one search, at the most; a usual set gives some thousands."""


class TooManyWays(LabError, ValueError):
    """So many blocks alike that all the ways to make a length can't be held."""

    code = "too-many-ways"
    sentence = (
        "Expected blocks that make the length in few ways, found {found} partial ones. Leave out blocks that are "
        "alike, or offer one set only."
    )


@dataclass(frozen=True, slots=True)
class _Subsets:
    """All subsets of one count: their sums, lowest and highest place, and how each came from one a size smaller."""

    sums: NDArray[np.int64]
    first: NDArray[np.intp]
    last: NDArray[np.intp]
    parent: NDArray[np.intp]
    smaller: _Subsets | None

    def places(self, chosen: NDArray[np.intp]) -> list[NDArray[np.intp]]:
        """Give the places of each of the ``chosen`` subsets, one array for each of its members."""
        if self.smaller is None:
            return [self.last[chosen]]
        return [*self.smaller.places(self.parent[chosen]), self.last[chosen]]


class Search:
    """The sizes (above zero) of one search; sums of few of them are worked out once, when they are first needed."""

    def __init__(self, sizes: NDArray[np.int64]) -> None:
        self.sizes = sizes
        self._known: list[_Subsets] = []

    def exactly(self, total: int, count: int) -> NDArray[np.intp]:
        """Find all subsets of ``count`` (1 to 6) sizes that add up to ``total``, as rows of places in rising order."""
        if count == 1:
            return self._single(total, total)
        lower, upper = self._halves(count)
        wanted = total - lower.sums
        candidates = _perhaps_among(wanted, upper.sums)
        return _met(lower, upper, candidates, (wanted[candidates], wanted[candidates]))

    def between(self, lowest: int, highest: int, count: int) -> NDArray[np.intp]:
        """Find all subsets of ``count`` sizes whose sum lies from ``lowest`` to ``highest``, ends included."""
        import numpy as np

        if count == 1:
            return self._single(lowest, highest)
        lower, upper = self._halves(count)
        return _met(lower, upper, np.arange(len(lower.sums)), (lowest - lower.sums, highest - lower.sums))

    def _single(self, lowest: int, highest: int) -> NDArray[np.intp]:
        import numpy as np

        return np.flatnonzero((self.sizes >= lowest) & (self.sizes <= highest))[:, None]

    def _halves(self, count: int) -> tuple[_Subsets, _Subsets]:
        return self._subsets(count - count // 2), self._subsets(count // 2)

    def _subsets(self, count: int) -> _Subsets:
        import numpy as np

        if not self._known:
            places = np.arange(len(self.sizes))
            self._known.append(_Subsets(self.sizes, places, places, places, None))
        while len(self._known) < count:
            self._known.append(_one_larger(self._known[-1], self.sizes))
        return self._known[count - 1]


def _one_larger(smaller: _Subsets, sizes: NDArray[np.int64]) -> _Subsets:
    """Add to every subset each size behind its last."""
    import numpy as np

    followers = len(sizes) - 1 - smaller.last
    parent = np.repeat(np.arange(len(followers)), followers)
    last = _runs(smaller.last + 1, followers)
    return _Subsets(smaller.sums[parent] + sizes[last], smaller.first[parent], last, parent, smaller)


def _perhaps_among(wanted: NDArray[np.int64], sums: NDArray[np.int64]) -> NDArray[np.intp]:
    """Find which of ``wanted`` may be among ``sums``: none is missed, a few are too many."""
    import numpy as np

    bits = max(12, (16 * len(sums)).bit_length())
    shift, spread = np.uint64(64 - bits), np.uint64(_SPREAD)
    table = np.zeros(1 << bits, dtype=np.bool_)
    table[(sums.astype(np.uint64) * spread) >> shift] = True
    found: NDArray[np.intp] = np.flatnonzero(table[(wanted.astype(np.uint64) * spread) >> shift])
    return found


def _met(
    lower: _Subsets,
    upper: _Subsets,
    candidates: NDArray[np.intp],
    wanted: tuple[NDArray[np.int64], NDArray[np.int64]],
) -> NDArray[np.intp]:
    """Join each candidate of ``lower`` with every one of ``upper`` whose sum lies within ``wanted`` and whose places
    all come after. Raises TooManyWays.
    """
    import numpy as np

    order = np.argsort(upper.sums, kind="stable")
    ordered = upper.sums[order]
    starts = np.searchsorted(ordered, wanted[0], side="left")
    counts = np.maximum(np.searchsorted(ordered, wanted[1], side="right") - starts, 0)
    if (matches := int(counts.sum())) > MOST_MATCHES:
        raise TooManyWays(found=matches)
    below = np.repeat(candidates, counts)
    above = order[_runs(starts, counts)]
    once = lower.last[below] < upper.first[above]
    return np.stack([*lower.places(below[once]), *upper.places(above[once])], axis=1)


def _runs(starts: NDArray[np.intp], counts: NDArray[np.intp]) -> NDArray[np.intp]:
    """Give start, start + 1 … for each of ``starts``, as many as ``counts`` says, one run behind the other."""
    import numpy as np

    ends = np.cumsum(counts)
    total = int(ends[-1]) if len(ends) else 0
    found: NDArray[np.intp] = np.arange(total) + np.repeat(starts - (ends - counts), counts)
    return found
