"""Gauge-block stacks that make a length exactly, from the fewest blocks of one set.

Lives here: the search, in whole picometres. May not live here: which blocks may be used (choosing.py).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

MOST_BLOCKS = 4


@dataclass(frozen=True, slots=True)
class Block:
    """A block by its id and its nominal size in whole picometres."""

    id: int
    size: int


class BlockSet:
    """The blocks of one set, with the sums of every two of them worked out once."""

    def __init__(self, blocks: Iterable[Block]) -> None:
        self.blocks: Sequence[Block] = sorted(blocks, key=lambda block: (block.size, block.id))
        self._pairs: dict[int, list[tuple[Block, Block]]] | None = None

    def solve(self, length: int, most: int = MOST_BLOCKS) -> tuple[Block, ...] | None:
        """Find the stack of at most ``most`` (1 to 4) blocks whose nominal sizes add up to ``length``, each used once.

        The fewest blocks win; among these the stack whose thinnest block is thickest, then the lowest ids, so that
        the answer never depends on chance. None where no such stack exists.
        """
        for count in range(1, min(most, MOST_BLOCKS) + 1):
            best = min(self._stacks(length, count), key=_preference, default=None)
            if best is not None:
                return best
        return None

    def _stacks(self, length: int, count: int) -> Iterator[tuple[Block, ...]]:
        if count == 1:
            yield from ((block,) for block in self.blocks if block.size == length)
        elif count == 2:
            yield from self._pairs_of(length)
        elif count == 3:
            for block in self.blocks:
                for pair in self._pairs_of(length - block.size):
                    if block not in pair:
                        yield (block, *pair)
        else:
            yield from self._fours(length)

    def _fours(self, length: int) -> Iterator[tuple[Block, ...]]:
        for total, pairs in self._sums().items():
            if total > length - total:
                continue
            for others in self._pairs_of(length - total):
                yield from ((*pair, *others) for pair in pairs if not set(pair) & set(others))

    def _pairs_of(self, length: int) -> list[tuple[Block, Block]]:
        return self._sums().get(length, [])

    def _sums(self) -> dict[int, list[tuple[Block, Block]]]:
        if self._pairs is None:
            pairs: dict[int, list[tuple[Block, Block]]] = defaultdict(list)
            for one, other in combinations(self.blocks, 2):
                pairs[one.size + other.size].append((one, other))
            self._pairs = dict(pairs)
        return self._pairs


def _preference(stack: tuple[Block, ...]) -> tuple[int, list[int]]:
    return -min(block.size for block in stack), sorted(block.id for block in stack)
