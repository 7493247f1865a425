"""Building a length from the blocks that are available: the fewest, other ways to make it, the nearest where none does.

Lives here: the question and its answer in words. May not live here: the choice among stacks (choosing.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from labsys.metrology.error import from_picometres
from labsys.metrology.exact import plain
from labsys.metrology.stacks.blocks import LONGEST_MM, PICOMETRES, BadLength, Block, Stack, exact_picometres
from labsys.metrology.stacks.choosing import Shelf
from labsys.metrology.stacks.rules import StackRules
from labsys.metrology.units import Unit


@dataclass(frozen=True, slots=True)
class StackAnswer:
    """What the blocks make of ``asked_mm``.

    ``stacks`` make it exactly, the best first: the fewest blocks, then the fewest certificates, then the thickest
    thinnest block; the others share as few blocks as possible with those before. ``ways`` counts the stacks that are
    as short as the first. Where there are none, ``below`` and ``above`` are the nearest within the tolerance.
    ``sentence`` says so.
    """

    asked_mm: Decimal
    stacks: tuple[Stack, ...]
    ways: int
    below: Stack | None
    above: Stack | None
    sentence: str

    @property
    def is_exact(self) -> bool:
        """Say whether a stack makes the length exactly."""
        return bool(self.stacks)


def build_stack(length_mm: Decimal, blocks: Sequence[Block], rules: StackRules | None = None) -> StackAnswer:
    """Find the fewest of ``blocks`` whose nominal sizes add up to ``length_mm`` exactly, each used once.

    Every smaller count is searched through before, so that fewer are impossible. Sizes are compared in whole
    picometres, mm and inch blocks together. Raises BadLength, BlocksUnusable, TooManyWays.
    """
    chosen = rules or StackRules()
    asked = exact_picometres(length_mm, Unit.MM)
    if asked is None or not 0 < asked <= LONGEST_MM * PICOMETRES:
        raise BadLength(expected=f"a length up to {LONGEST_MM} mm in whole picometres", found=length_mm)
    shelf = Shelf(asked, blocks, chosen)
    stacks, ways = shelf.exact()
    below, above = (None, None) if stacks else (shelf.nearest(-1), shelf.nearest(1))
    sentence = _made(stacks, ways, length_mm) if stacks else _missed(shelf, length_mm, below, above)
    return StackAnswer(from_picometres(asked), tuple(stacks), ways, below, above, sentence)


def _made(stacks: Sequence[Stack], ways: int, asked_mm: Decimal) -> str:
    count = len(stacks[0].blocks)
    blocks = f"{count} block{'s' if count > 1 else ''}"
    return f"{stacks[0].words} = {plain(asked_mm):f} mm: {blocks}, the fewest ({ways} such)."


def _missed(shelf: Shelf, asked_mm: Decimal, below: Stack | None, above: Stack | None) -> str:
    why = f"No stack of at most {shelf.rules.most} of these blocks makes {plain(asked_mm):f} mm exactly"
    if shelf.misses_step:
        why += (
            f", nor would more blocks: all sizes are multiples of {plain(from_picometres(shelf.step)):f} mm"
        )
    within = f"within {plain(shelf.rules.nearest_within_mm):f} mm"
    near = [
        f"{side} {one.words} = {plain(one.nominal_mm):f} mm"
        for side, one in (("below", below), ("above", above))
        if one is not None
    ]
    return (
        f"{why}. Nearest {within}: {'; '.join(near)}."
        if near
        else f"{why}. Nothing lies {within} of it either."
    )
