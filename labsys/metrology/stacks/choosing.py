"""Choosing among all the stacks that make a length, or come nearest to it.

Lives here: what is preferred, how the search widens. May not live here: the search itself (searching.py), the answer in
words (building.py).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from labsys.metrology.error import from_picometres
from labsys.metrology.stacks.blocks import PICOMETRES, BadLength, Block, Stack, stacked
from labsys.metrology.stacks.rules import StackRules, by_identity
from labsys.metrology.stacks.searching import Search

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class Shelf:
    """The blocks to choose from for one length, and what is left of it between the ends, in the finest common step."""

    def __init__(self, asked: int, blocks: Sequence[Block], rules: StackRules) -> None:
        import numpy as np

        self.asked, self.rules = asked, rules
        known = by_identity(blocks, rules)
        self.ends = [known[identity] for identity in rules.ends]
        self.left = asked - sum(block.picometres for block in self.ends)
        if self.left < 0:
            raise BadLength(
                expected="a length not under that of its wear blocks", found=from_picometres(asked)
            )
        reach = self.left + int(rules.nearest_within_mm * PICOMETRES)
        unused = {*rules.avoid, *rules.ends}
        offered = [(one, one.picometres) for one in blocks if one.identity not in unused]
        usable = [(one, size) for one, size in offered if size <= reach]
        self.blocks = [one for one, _ in usable]
        self.step = math.gcd(*(size for _, size in usable)) or 1
        self.search = Search(np.array([size // self.step for _, size in usable], dtype=np.int64))
        certificates = {name: code for code, name in enumerate(sorted({one.certificate for one in blocks}))}
        self.codes = np.array([certificates[one.certificate] for one in self.blocks], dtype=np.int64)

    @property
    def misses_step(self) -> bool:
        """Say whether no number of these blocks can make the length."""
        return bool(self.blocks) and self.left % self.step != 0

    def exact(self) -> tuple[list[Stack], int]:
        """Give stacks that make the length, the best first, and how many are as short as the first."""
        if self.left == 0:
            return [stacked((), self.ends)], 1
        stacks: list[Stack] = []
        ways, used = 0, self._unused()
        for rows in self._rows_by_count():
            if not stacks:
                ways = len(rows)
            stacks += self._picked(rows, 1 + self.rules.alternatives - len(stacks), used)
            if len(stacks) > self.rules.alternatives:
                break
        return stacks, ways

    def _rows_by_count(self) -> Iterator[NDArray[np.intp]]:
        if self.left % self.step:
            return
        for count in range(1, min(self.rules.most, len(self.blocks)) + 1):
            rows = self.search.exactly(self.left // self.step, count)
            if len(rows):
                yield rows

    def _unused(self) -> NDArray[np.int64]:
        import numpy as np

        return np.zeros(len(self.blocks), dtype=np.int64)

    def _picked(self, rows: NDArray[np.intp], wanted: int, used: NDArray[np.int64]) -> list[Stack]:
        """Take the best, each sharing the fewest blocks with those taken before, which ``used`` counts."""
        import numpy as np

        ranked = rows[self._order(rows)]
        stacks = []
        open_rows = np.ones(len(ranked), dtype=np.bool_)
        for _ in range(min(wanted, len(ranked))):
            shared = np.where(open_rows, used[ranked].sum(axis=1), np.iinfo(np.int64).max)
            place = int(shared.argmin())
            open_rows[place] = False
            used[ranked[place]] += 1
            stacks.append(stacked([self.blocks[index] for index in ranked[place]], self.ends))
        return stacks

    def _order(self, rows: NDArray[np.intp]) -> NDArray[np.intp]:
        """Rank stacks of one count: fewest certificates, thickest thinnest block, then the order the blocks came in."""
        import numpy as np

        codes = np.sort(self.codes[rows], axis=1)
        certificates = (codes[:, 1:] != codes[:, :-1]).sum(axis=1)
        thinnest = self.search.sizes[rows].min(axis=1)
        return np.lexsort((*rows.T[::-1], -thinnest, certificates))

    def nearest(self, side: int) -> Stack | None:
        """Widen a window on one side of the length until something lies in it, and take what lies closest."""
        reach = int(self.rules.nearest_within_mm * PICOMETRES)
        width = min(self.step, reach)
        while width > 0:
            near, far = sorted((self.left + side, self.left + side * width))
            found = self._closest(near, far)
            if found is not None:
                return found
            if width == reach:
                break
            width = min(2 * width, reach)
        return stacked((), self.ends) if self.ends and side < 0 and 0 < self.left <= reach else None

    def _closest(self, lowest: int, highest: int) -> Stack | None:
        """Take the closest within a window, of equally close ones the fewest blocks."""
        low, high = -(-lowest // self.step), highest // self.step
        best: Stack | None = None
        for count in range(1, min(self.rules.most, len(self.blocks)) + 1):
            if high < low or (best is not None and high == low):
                break
            found = self._closest_of(self.search.between(low, high, count))
            if found is not None and (best is None or self._away(found) < self._away(best)):
                best = found
        return best

    def _closest_of(self, rows: NDArray[np.intp]) -> Stack | None:
        import numpy as np

        if not len(rows):
            return None
        away = np.abs(self.search.sizes[rows].sum(axis=1) * self.step - self.left)
        return self._picked(rows[away == away.min()], 1, self._unused())[0]

    def _away(self, stack: Stack) -> int:
        return abs(stack.picometres - self.asked)
