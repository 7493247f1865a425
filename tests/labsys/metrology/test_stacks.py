"""Stacks of gauge blocks: worked examples, brute force and a second method for the fewest, refusals, uncertainty."""

from __future__ import annotations

import math
import pickle
import random
from collections.abc import Callable, Sequence
from decimal import Decimal
from itertools import combinations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labsys.errors import LabError
from labsys.metrology.stacks.blocks import BadBlock, BadLength, Block, Stack
from labsys.metrology.stacks.building import StackAnswer, build_stack
from labsys.metrology.stacks.rules import BlocksUnusable, StackRules
from labsys.metrology.stacks.searching import TooManyWays
from labsys.metrology.stacks.sets import SETS, NoSuchSet, blocks_of_set
from labsys.metrology.stacks.uncertainty import BlockWithoutUncertainty, stack_budget
from labsys.metrology.units import Unit, to_mm
from tests.labsys.metrology.published import printed

METRIC = blocks_of_set("112 mm")
INCH = blocks_of_set("81 in")


def block(size: str, **rest: Any) -> Block:
    return Block(identity=rest.pop("identity", size), nominal=Decimal(size), **rest)


def sizes(stack: Stack) -> list[str]:
    return [one.identity for one in stack.blocks]


@pytest.mark.parametrize("name", list(SETS))
def test_a_set_has_as_many_blocks_as_its_name_says(name: str) -> None:
    blocks = blocks_of_set(name)
    assert len(blocks) == len({one.picometres for one in blocks}) == int(name.split()[0])
    assert {one.unit.value for one in blocks} == {name.split()[1]}


def test_a_national_laboratorys_length() -> None:
    # 58.345 mm: the example goes digit by digit and takes five blocks (1.005 + 1.04 + 1.30 + 5 + 50); four do.
    found = build_stack(Decimal("58.345"), METRIC)
    assert found.stacks[0].words == "50 + 6 + 1.34 + 1.005"
    assert len(found.stacks[0].blocks) == printed("stack-worked", "blocks for 58.345 mm")
    assert found.is_exact and found.stacks[0].nominal_mm == Decimal("58.345")
    by_digit = StackRules(avoid=("1.34 mm",), alternatives=100)
    lists = [
        sorted(one.words.split(" + ")) for one in build_stack(Decimal("58.345"), METRIC, by_digit).stacks
    ]
    assert all(len(one) == 5 for one in lists)


def test_an_inch_length() -> None:
    found = build_stack(to_mm(Decimal("3.9762"), Unit.IN), INCH)
    assert found.stacks[0].words == "3 in + 0.75 in + 0.126 in + 0.1002 in"
    assert found.stacks[0].nominal_mm == Decimal("100.995480000")


def test_half_steps_of_both_units_are_exact() -> None:
    assert build_stack(Decimal("2.0005"), METRIC).stacks[0].words == "1.0005 + 1"
    fine = [*INCH, Block(identity="fine", nominal=Decimal("0.10005"), unit=Unit.IN)]
    found = build_stack(to_mm(Decimal("0.30105"), Unit.IN), fine)
    assert found.stacks[0].nominal_mm == Decimal("7.64667")
    assert "fine" in sizes(found.stacks[0]) and len(found.stacks[0].blocks) == 3


def test_inch_and_metric_blocks_stand_on_each_other() -> None:
    blocks = [block("25.4"), Block(identity="one inch", nominal=Decimal(1), unit=Unit.IN), block("0.5")]
    found = build_stack(Decimal("50.8"), blocks)
    assert found.stacks[0].words == "25.4 + 1 in" or found.stacks[0].words == "1 in + 25.4"
    assert found.ways == 1


# The fewest, by two other methods.


def fewest_by_bits(places: Sequence[int], most: int, total: int) -> list[int]:
    """Mark in one whole number for each count which sums that many sizes make: bit n for the sum n.

    Each size is taken once, into all sets that it isn't in yet; what no count marks no stack makes.
    """
    mask = (1 << (total + 1)) - 1
    marks = [1] + [0] * most
    for size in places:
        for count in range(most, 0, -1):
            marks[count] |= (marks[count - 1] << size) & mask
    return marks


@pytest.mark.parametrize(("blocks", "step"), [(METRIC, 500_000), (INCH, 2_540_000)])
def test_the_fewest_against_all_sums_at_once(blocks: tuple[Block, ...], step: int) -> None:
    top = 150_000_000_000 // step
    marks = fewest_by_bits([one.picometres // step for one in blocks], 5, top)
    draw = random.Random(31)
    counts = []
    for length in draw.sample(range(1, top), 60):
        fewest = next((count for count in range(1, 6) if marks[count] >> length & 1), None)
        rules = StackRules(alternatives=0, nearest_within_mm=Decimal(0))
        found = build_stack(Decimal(length * step).scaleb(-9), blocks, rules)
        assert (len(found.stacks[0].blocks) if found.is_exact else None) == fewest
        counts.append(fewest)
    assert {4, 5} <= set(counts)


def brute(blocks: Sequence[Block], length: int, most: int) -> tuple[int, list[tuple[Block, ...]]]:
    """Try every subset: the fewest and all that few."""
    for count in range(1, most + 1):
        found = [
            some for some in combinations(blocks, count) if sum(one.picometres for one in some) == length
        ]
        if found:
            return count, found
    return 0, []


SMALL = st.lists(st.integers(1, 40), min_size=1, max_size=9)


def small_blocks(numbers: Sequence[int]) -> list[Block]:
    return [
        Block(identity=f"{place}", nominal=Decimal(number) / 2, certificate="AB"[place % 2])
        for place, number in enumerate(numbers)
    ]


def preference(some: Sequence[Block]) -> tuple[int, int]:
    return len({one.certificate for one in some}), -min(one.picometres for one in some)


@settings(max_examples=150, deadline=None)
@given(SMALL, st.integers(1, 160), st.integers(1, 6))
def test_exact_stacks_against_brute_force(numbers: list[int], length: int, most: int) -> None:
    blocks = small_blocks(numbers)
    found = build_stack(Decimal(length) / 2, blocks, StackRules(most=most, alternatives=100))
    fewest, all_such = brute(blocks, length * 500_000_000, most)
    assert found.is_exact == bool(fewest)
    if not fewest:
        return
    assert found.ways == len(all_such)
    assert preference(found.stacks[0].blocks) == min(map(preference, all_such))
    told = {frozenset(sizes(one)) for one in found.stacks if len(one.blocks) == fewest}
    assert told >= {frozenset(one.identity for one in some) for some in all_such} or len(all_such) > 101
    if len(all_such) > 1:
        best, second = (set(sizes(one)) for one in found.stacks[:2])
        others = [{one.identity for one in some} for some in all_such]
        assert len(best & second) == min(len(best & other) for other in others if other != best)
    for one in found.stacks:
        assert one.picometres == length * 500_000_000 and len(set(sizes(one))) == len(one.blocks) <= most


@settings(max_examples=150, deadline=None)
@given(SMALL, st.integers(1, 400), st.integers(1, 4), st.integers(0, 30))
def test_the_nearest_against_brute_force(numbers: list[int], quarter: int, most: int, within: int) -> None:
    blocks = small_blocks(numbers)
    length, reach = quarter * 125_000_000, within * 100_000_000
    rules = StackRules(most=most, nearest_within_mm=Decimal(within) / 10)
    found = build_stack(Decimal(quarter) / 8, blocks, rules)
    if found.is_exact:
        assert (found.below, found.above) == (None, None)
        return
    every = [
        (sum(one.picometres for one in some) - length, count)
        for count in range(1, most + 1)
        for some in combinations(blocks, count)
    ]
    for side, stack in ((-1, found.below), (1, found.above)):
        away = [(abs(gap), count) for gap, count in every if 0 < gap * side <= reach]
        assert (None if stack is None else (abs(stack.picometres - length), len(stack.blocks))) == min(
            away, default=None
        )


# Rules.


def test_no_exact_stack_is_said_with_the_nearest() -> None:
    found = build_stack(Decimal("58.3452"), METRIC)
    assert not found.is_exact and found.ways == 0
    assert found.below is not None and found.above is not None
    assert (found.below.nominal_mm, found.above.nominal_mm) == (Decimal("58.345"), Decimal("58.3455"))
    assert "nor would more blocks: all sizes are multiples of 0.0005 mm" in found.sentence
    assert "below 50 + 6 + 1.34 + 1.005 = 58.345 mm; above" in found.sentence


def test_nothing_near_is_said() -> None:
    found = build_stack(Decimal(9), [block("2"), block("3")])
    assert found.sentence == (
        "No stack of at most 5 of these blocks makes 9 mm exactly. Nothing lies within 0.01 mm of it either."
    )


def test_alternatives_share_as_little_as_they_can() -> None:
    blocks = [block(size) for size in ("1", "2", "3", "4", "5", "6")]
    found = build_stack(Decimal(7), blocks, StackRules(alternatives=2))
    assert sorted(sorted(sizes(one)) for one in found.stacks) == [["1", "6"], ["2", "5"], ["3", "4"]]
    # The best has the thickest thinnest block; no two share a block.
    assert sizes(found.stacks[0]) == ["4", "3"] and found.ways == 3


def test_alternatives_may_take_more_blocks() -> None:
    found = build_stack(
        Decimal(6), [block(size) for size in ("6", "1", "2", "3")], StackRules(alternatives=1)
    )
    assert [sizes(one) for one in found.stacks] == [["6"], ["3", "2", "1"]] and found.ways == 1


def test_blocks_to_avoid() -> None:
    first = build_stack(Decimal("58.345"), METRIC).stacks[0]
    found = build_stack(Decimal("58.345"), METRIC, StackRules(avoid=sizes(first)[:1]))
    assert sizes(first)[0] not in {name for one in found.stacks for name in sizes(one)}


def test_one_certificate_before_a_thicker_block() -> None:
    blocks = [block("3", certificate="A"), block("4", certificate="B"), block("2", certificate="A")]
    blocks.append(block("5", certificate="A"))
    assert sizes(build_stack(Decimal(7), blocks).stacks[0]) == ["5", "2"]


def test_wear_blocks_stand_at_the_ends_and_count() -> None:
    rules = StackRules(ends=("2.0 mm", "1.5 mm"), most=4)
    stack = build_stack(Decimal("58.345"), METRIC, rules).stacks[0]
    assert (sizes(stack)[0], sizes(stack)[-1]) == ("2.0 mm", "1.5 mm")
    assert stack.nominal_mm == Decimal("58.345") and stack.joints == len(stack.blocks) - 1
    assert sizes(build_stack(Decimal("3.5"), METRIC, rules).stacks[0]) == ["2.0 mm", "1.5 mm"]
    near = build_stack(Decimal("3.505"), METRIC, rules)
    assert near.below is not None and sizes(near.below) == ["2.0 mm", "1.5 mm"]
    with pytest.raises(BadLength, match="not under that of its wear blocks"):
        build_stack(Decimal(3), METRIC, rules)


def test_the_length_of_a_stack_has_its_deviations() -> None:
    blocks = [
        block("100", deviation_mm=Decimal("0.00012")),
        block("50", deviation_mm=Decimal("-0.000045")),
    ]
    stack = build_stack(Decimal(150), blocks).stacks[0]
    assert (stack.deviation_mm, stack.length_mm) == (Decimal("0.000075"), Decimal("150.000075"))


# Uncertainty.


def test_grade_limits_and_one_joint() -> None:
    # 100 + 50 of grade 1 (0.6 and 0.4 µm) with one joint of 0.05 µm, worked by hand.
    blocks = [block("100", limit_mm=0.0006), block("50", limit_mm=0.0004)]
    budget = stack_budget(build_stack(Decimal(150), blocks).stacks[0], wringing_mm=0.00005)
    assert budget.u_mm * 1000 == pytest.approx(math.sqrt((0.6**2 + 0.4**2 + 0.05**2) / 3), rel=1e-12)
    assert budget.u_mm * 1000 == pytest.approx(printed("stack-worked", "u of 100 + 50 mm, grade 1"), abs=5e-4)


def test_blocks_of_one_certificate_add_up() -> None:
    same = [block("3", U_mm=0.0001, certificate="A"), block("4", U_mm=0.0002, certificate="A")]
    other = [same[0], block("4", U_mm=0.0002, certificate="B")]
    together, apart = (
        stack_budget(build_stack(Decimal(7), blocks).stacks[0], wringing_mm=0.0).u_mm
        for blocks in (same, other)
    )
    assert together == pytest.approx(0.00015, rel=1e-12)
    assert apart == pytest.approx(math.hypot(0.00005, 0.0001), rel=1e-12)


def test_a_single_block_has_no_joint() -> None:
    single = Stack((block("5", U_mm=0.0001, k=2.0),))
    assert stack_budget(single).u_mm == pytest.approx(0.00005) and single.joints == 0


def test_joints_are_independent() -> None:
    stack = Stack(tuple(block(size, U_mm=1e-12, certificate=size) for size in ("5", "4", "3", "2")))
    budget = stack_budget(stack, wringing_mm=0.00003)
    assert budget.u_mm == pytest.approx(0.00003, rel=1e-6)  # √3 joints over √3


def test_a_block_of_which_nothing_is_known() -> None:
    with pytest.raises(BlockWithoutUncertainty, match="50 mm"):
        stack_budget(build_stack(Decimal(150), METRIC).stacks[0])


# Refusals.


def alike(count: int) -> list[Block]:
    return [block("1", identity=f"{place}") for place in range(count)]


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: build_stack(Decimal(0), METRIC), BadLength),
        (lambda: build_stack(Decimal("NaN"), METRIC), BadLength),
        (lambda: build_stack(Decimal("Infinity"), METRIC), BadLength),
        (lambda: build_stack(Decimal("10000.1"), METRIC), BadLength),
        (lambda: build_stack(Decimal("1.0000000001"), METRIC), BadLength),
        (lambda: build_stack(Decimal(1), []), BlocksUnusable),
        (lambda: build_stack(Decimal(1), [block("1"), block("1")]), BlocksUnusable),
        (lambda: build_stack(Decimal(2), [METRIC[0], METRIC[0]]), BlocksUnusable),
        (lambda: build_stack(Decimal(1), alike(301)), BlocksUnusable),
        (lambda: build_stack(Decimal(1), METRIC, StackRules(avoid=("7 mm",))), BlocksUnusable),
        (lambda: build_stack(Decimal(9), METRIC, StackRules(ends=("25 mm", "25 mm"))), BlocksUnusable),
        (lambda: build_stack(Decimal(5), alike(300)), TooManyWays),
        (lambda: StackRules(most=0), BlocksUnusable),
        (lambda: StackRules(most=7), BlocksUnusable),
        (lambda: StackRules(ends=("1", "2", "3")), BlocksUnusable),
        (lambda: StackRules(alternatives=101), BlocksUnusable),
        (lambda: StackRules(nearest_within_mm=Decimal("NaN")), BlocksUnusable),
        (lambda: StackRules(nearest_within_mm=Decimal(-1)), BlocksUnusable),
        (lambda: block("0"), BadBlock),
        (lambda: block("-1"), BadBlock),
        (lambda: block("NaN"), BadBlock),
        (lambda: block("1e9"), BadBlock),
        (lambda: block("1.00000000001"), BadBlock),
        (lambda: block("1", deviation_mm=Decimal("NaN")), BadBlock),
        (lambda: blocks_of_set("13 mm"), NoSuchSet),
    ],
)
def test_what_no_stack_is_made_of(call: Callable[[], StackAnswer], error: type[LabError]) -> None:
    with pytest.raises(error) as refused:
        call()
    assert isinstance(refused.value, ValueError)
    assert str(pickle.loads(pickle.dumps(refused.value))) == str(refused.value)


def test_no_block_is_short_enough() -> None:
    assert not build_stack(Decimal("0.1"), METRIC).is_exact
