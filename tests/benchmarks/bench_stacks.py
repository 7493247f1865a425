"""How long a five-block stack takes, as a ratio against one plain pass over all pair sums of the set.

Run by naming the file: pytest tests/benchmarks/bench_stacks.py -s
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from decimal import Decimal
from itertools import combinations

import pytest

from labsys.metrology.stacks.blocks import Block
from labsys.metrology.stacks.building import build_stack
from labsys.metrology.stacks.rules import StackRules
from labsys.metrology.stacks.sets import blocks_of_set

pytestmark = pytest.mark.benchmark

FIVE_BLOCKS = tuple(Decimal(length) for length in ("73.9985", "98.9985", "97.7885", "124.4895"))
MOST_OVER_PAIRS = 60.0
"""The budget: 20 ms where a pass over the pairs takes a third of a millisecond."""

MOST_NEAREST_OVER_PAIRS = 400.0
REPEATS = 15


def pass_over_pairs(sizes: Sequence[int]) -> int:
    """Add every two sizes in plain Python."""
    largest = 0
    for one, other in combinations(sizes, 2):
        total = one + other
        if total > largest:
            largest = total
    return largest


def fastest(*calls: Callable[[], object]) -> list[float]:
    """Give the least seconds of each of several calls, taken in turn so that a busy machine slows all alike."""
    least = [float("inf")] * len(calls)
    for _ in range(REPEATS):
        for place, call in enumerate(calls):
            start = time.perf_counter()
            call()
            least[place] = min(least[place], time.perf_counter() - start)
    return least


def test_a_five_block_stack_from_112_pieces() -> None:
    blocks = blocks_of_set("112 mm")
    sizes = [block.picometres for block in blocks]
    for length in FIVE_BLOCKS:
        stack = build_stack(length, blocks).stacks[0]
        assert len(stack.blocks) == 5 and stack.nominal_mm == length
    floor, *taken = fastest(
        lambda: pass_over_pairs(sizes), *(_build(length, blocks) for length in FIVE_BLOCKS)
    )
    ratio = max(taken) / floor
    say(
        f"five blocks of 112: {max(taken) * 1e3:.1f} ms, {ratio:.1f} passes over all pairs ({floor * 1e3:.2f} ms)"
    )
    assert ratio < MOST_OVER_PAIRS


def test_the_nearest_where_nothing_is_exact() -> None:
    blocks = blocks_of_set("112 mm")
    sizes = [block.picometres for block in blocks]
    found = build_stack(Decimal("173.9985"), blocks)
    assert not found.is_exact and found.below is not None and found.above is not None
    floor, taken = fastest(lambda: pass_over_pairs(sizes), _build(Decimal("173.9985"), blocks))
    say(f"nearest of 112: {taken * 1e3:.1f} ms, {taken / floor:.1f} passes over all pairs")
    assert taken / floor < MOST_NEAREST_OVER_PAIRS


def say(text: str) -> None:
    """Print a line; it is what the file is run for."""
    print(f"\n{text}")  # noqa: T201


def _build(length: Decimal, blocks: Sequence[Block]) -> Callable[[], object]:
    return lambda: build_stack(length, blocks, StackRules())
