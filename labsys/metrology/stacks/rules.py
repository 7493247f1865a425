"""What a stack may be: how many blocks, which not, what at its ends.

Lives here: the rules and what they refuse. May not live here: the choice (choosing.py).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from labsys.errors import LabError
from labsys.metrology.stacks.blocks import Block
from labsys.metrology.stacks.searching import MOST_COUNT

USUAL_MOST: Final = 5
"""Blocks in one stack at the most; more than five is unusual (common practice, no source)."""

MOST_OFFERED: Final = 300
"""Blocks offered at the most: the sums of three of them are held in memory."""


class BlocksUnusable(LabError, ValueError):
    """Blocks that can't be searched as they were given."""

    code = "blocks-unusable"
    sentence = "Blocks for the stack: expected {expected}, found {found}. Correct the list of blocks."


@dataclass(frozen=True, slots=True, kw_only=True)
class StackRules:
    """What a stack may be.

    ``most`` blocks between the ends (1 to 6), ``avoid`` the identities not to use, ``ends`` the wear blocks to put at
    the ends (none, one or two identities; their sizes count), ``alternatives`` how many other stacks to offer,
    ``nearest_within_mm`` how far from the length to look where no stack makes it. Raises BlocksUnusable.
    """

    most: int = USUAL_MOST
    avoid: Collection[str] = ()
    ends: tuple[str, ...] = ()
    alternatives: int = 2
    nearest_within_mm: Decimal = Decimal("0.01")

    def __post_init__(self) -> None:
        """Refuse rules that mean nothing."""
        _expect(1 <= self.most <= MOST_COUNT, f"at most 1 to {MOST_COUNT} of them in a stack", self.most)
        _expect(len(self.ends) <= 2, "at most two wear blocks", len(self.ends))
        _expect(0 <= self.alternatives <= 100, "0 to 100 alternatives", self.alternatives)
        within = self.nearest_within_mm
        _expect(
            within.is_finite() and within >= 0, "a finite tolerance of zero or more for the nearest", within
        )


def by_identity(blocks: Sequence[Block], rules: StackRules) -> dict[str, Block]:
    """Give the blocks by identity; raises BlocksUnusable where they and the rules don't fit."""
    found = {block.identity: block for block in blocks}
    _expect(bool(blocks), "at least one block", "none")
    _expect(len(blocks) <= MOST_OFFERED, f"at most {MOST_OFFERED} of them", len(blocks))
    twins = [name for name, count in Counter(one.identity for one in blocks).items() if count > 1]
    _expect(not twins, "an identity of its own for each", ", ".join(twins[:3]))
    unknown = sorted({*rules.avoid, *rules.ends} - set(found))
    _expect(not unknown, "blocks to avoid and wear blocks from the list", ", ".join(unknown[:3]))
    _expect(len(set(rules.ends)) == len(rules.ends), "two different wear blocks", rules.ends)
    return found


def _expect(holds: bool, expected: str, found: object) -> None:
    if not holds:
        raise BlocksUnusable(expected=expected, found=found)
