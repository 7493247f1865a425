"""Stacks: the fewest blocks, each once, exact, checked against published examples and against trying everything."""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from instruments.procedures.planner.stacks import Block, BlockSet
from labsys.metrology.error import to_picometres
from labsys.metrology.units import Unit, to_mm
from tests.instruments.procedures.shelves import IN81, M112

D = Decimal


def block_set(sizes: list[Decimal]) -> BlockSet:
    return BlockSet(Block(number, to_picometres(size)) for number, size in enumerate(sizes))


def sizes_of(stack: tuple[Block, ...] | None) -> list[Decimal]:
    assert stack is not None
    return sorted(D(block.size).scaleb(-9).normalize() for block in stack)


# A national laboratory stacks 58.345 mm from the 112-piece set digit by digit with five blocks (NIST Special
# Publication on dimensional training, as read for this project's references); four are enough.
def test_58_345_mm_takes_four_blocks_of_the_112_piece_set() -> None:
    stack = block_set(M112).solve(to_picometres(D("58.345")))
    assert stack is not None and len(stack) == 4
    assert sum(block.size for block in stack) == to_picometres(D("58.345"))


def test_3_9762_in_takes_four_blocks_of_the_81_piece_set() -> None:
    length = to_mm(D("3.9762"), Unit.IN)
    stack = block_set(IN81).solve(to_picometres(length))
    assert stack is not None and len(stack) == 4
    assert sum(block.size for block in stack) == to_picometres(length)


@pytest.mark.parametrize(("length", "count"), [("25", 1), ("41.3", 3), ("90", 2), ("131.4", 4), ("150", 2)])
def test_default_lengths_take_few_blocks(length: str, count: int) -> None:
    stack = block_set(M112).solve(to_picometres(D(length)))
    assert stack is not None and len(stack) == count


def test_thicker_blocks_are_preferred() -> None:
    stack = block_set([D("0.5"), D("1.5"), D("3"), D("4")]).solve(to_picometres(D("4.5")))
    assert sizes_of(stack) == [D("1.5"), D("3")]


def test_no_stack_is_none_and_no_block_is_used_twice() -> None:
    assert block_set([D("10"), D("20")]).solve(to_picometres(D("40"))) is None
    assert block_set([D("10"), D("10")]).solve(to_picometres(D("20"))) is not None
    assert block_set([]).solve(to_picometres(D("20"))) is None
    assert block_set(M112).solve(to_picometres(D("58.345")), most=3) is None


@settings(max_examples=150, deadline=None)
@given(
    sizes=st.lists(st.integers(1, 40), min_size=1, max_size=9),
    length=st.integers(1, 90),
    most=st.integers(1, 4),
)
def test_against_trying_every_combination(sizes: list[int], length: int, most: int) -> None:
    blocks = [Block(number, size) for number, size in enumerate(sizes)]
    fitting = [
        stack
        for count in range(1, most + 1)
        for stack in combinations(blocks, count)
        if sum(block.size for block in stack) == length
    ]
    found = BlockSet(blocks).solve(length, most)
    if not fitting:
        assert found is None
        return
    assert found is not None
    fewest = min(len(stack) for stack in fitting)
    thickest = max(min(block.size for block in stack) for stack in fitting if len(stack) == fewest)
    assert sum(block.size for block in found) == length
    assert len(set(found)) == len(found) == fewest
    assert min(block.size for block in found) == thickest
