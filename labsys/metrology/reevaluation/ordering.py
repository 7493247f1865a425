"""The order in which changes are carried: a result's turn comes after those of all results it rests on.

Lives here: levels of the chain, and the refusal of a chain that closes on itself. May not live here: arithmetic.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labsys.errors import LabError
from labsys.metrology.arrays.blocks import BLOCK, blocks
from labsys.metrology.reevaluation.tables import UseArrays, expect_between

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class ChainIsACircle(LabError, ValueError):
    """Results that rest on each other."""

    code = "chain-is-a-circle"
    sentence = "Expected results that rest on earlier ones, found a circle: {members}. Correct the uses of the records."


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Some results with all their ``uses``, in order of result; ``starts``: where each one's begin (None: one each)."""

    uses: NDArray[np.int64] | slice
    results: NDArray[np.int64]
    starts: NDArray[np.int64] | None


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """Results whose sources are all settled, with the places of their uses (None: as they stand)."""

    order: NDArray[np.int64] | None
    results: NDArray[np.int64]
    starts: NDArray[np.int64] | None
    count: int

    def parts(self, size: int = 2 * BLOCK) -> Iterator[Part]:
        """Give the level in parts of some results each."""
        for block in blocks(len(self.results), size):
            starts, uses = None, block
            if self.starts is not None:
                is_last = block.stop == len(self.results)
                first, last = self.starts[block.start], self.count if is_last else self.starts[block.stop]
                starts, uses = self.starts[block] - first, slice(first, last)
            yield Part(uses if self.order is None else self.order[uses], self.results[block], starts)


def levels_of(
    uses: UseArrays, *, changes: int, results: int, name: Callable[[int], str] = str
) -> list[Level]:
    """Put the uses into levels, first those of results that rest on changed standards alone.

    Every use is looked at twice, however deep the chain. ``name`` turns a result's place into what a person calls
    it. Raises ChainIsACircle, and BadReevaluation for places that aren't there.
    """
    import numpy as np

    expect_between(uses.results, 0, results, "results used")
    expect_between(uses.sources, 0, changes + results, "sources")
    if not len(uses.results):
        return []
    rests_on = uses.sources - changes
    links = np.flatnonzero(rests_on >= 0)
    if not len(links):
        is_ordered = bool((uses.results[1:] >= uses.results[:-1]).all())
        return [_level(uses, None if is_ordered else np.argsort(uses.results, kind="stable"))]
    depth = _depths(rests_on[links], uses.results[links], results, name)[uses.results]
    order = np.lexsort((uses.results, depth))
    ends = np.flatnonzero(np.diff(depth[order])) + 1
    return [_level(uses, part) for part in np.split(order, ends)]


def _level(uses: UseArrays, order: NDArray[np.int64] | None) -> Level:
    import numpy as np

    results = uses.results if order is None else uses.results[order]
    is_next = results[1:] != results[:-1]
    if bool(is_next.all()):
        return Level(order, results, None, len(results))
    starts = np.concatenate(([0], np.flatnonzero(is_next) + 1))
    return Level(order, results[starts], starts, len(results))


def _depths(
    sources: NDArray[np.int64], targets: NDArray[np.int64], count: int, name: Callable[[int], str]
) -> NDArray[np.int64]:
    """Give each result's depth: 0 where it rests on no other result, else one more than the deepest it rests on."""
    import numpy as np

    waits_for = np.bincount(targets, minlength=count)
    order = np.argsort(sources, kind="stable")
    first = np.searchsorted(sources[order], np.arange(count + 1))
    depth = np.zeros(count, np.int64)
    settled, level = np.flatnonzero(waits_for == 0), 0
    while len(settled):
        level += 1
        next_links = order[_runs(first[settled], first[settled + 1])]
        reached, times = np.unique(targets[next_links], return_counts=True)
        waits_for[reached] -= times
        settled = reached[waits_for[reached] == 0]
        depth[settled] = level
    if waits_for.any():
        members = _circle(sources, targets, waits_for > 0)
        raise ChainIsACircle(members=" → ".join(name(one) for one in members))
    return depth


def _runs(starts: NDArray[np.int64], ends: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give the numbers of all runs from each start up to its end, one after another."""
    import numpy as np

    lengths = ends - starts
    shifts = np.repeat(starts - np.concatenate(([0], np.cumsum(lengths)[:-1])), lengths)
    return np.arange(len(shifts)) + shifts


def _circle(sources: NDArray[np.int64], targets: NDArray[np.int64], is_open: NDArray[np.bool_]) -> list[int]:
    """Follow open results back to what they rest on until one comes round; the first one closes the list again."""
    pairs = zip(targets.tolist(), sources.tolist(), strict=True)
    rests_on = {target: source for target, source in pairs if is_open[source] and is_open[target]}
    here = next(iter(rests_on))
    seen: dict[int, int] = {}
    while here not in seen:
        seen[here] = len(seen)
        here = rests_on[here]
    return [here, *reversed(list(seen)[seen[here] :])]
