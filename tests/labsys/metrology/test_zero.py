"""The zero: within one step it widens its component, beyond it voids points, twice it rejects."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.limits import Limits
from labsys.metrology.zero import (
    Stretch,
    ZeroReading,
    as_found_zero,
    judge_zeros,
    zero_half_width,
    zero_holds,
)

STEP = Decimal("0.01")


def check(place: int, value: str) -> ZeroReading:
    return ZeroReading(place, Decimal(value))


@pytest.mark.parametrize(
    ("closing", "half_width"),
    [(None, "0.005"), ("0", "0.005"), ("0.004", "0.005"), ("0.01", "0.01"), ("-0.01", "0.01")],
)
def test_half_width_is_half_a_step_or_the_closing_zero(closing: str | None, half_width: str) -> None:
    assert zero_half_width(STEP, None if closing is None else Decimal(closing)) == Decimal(half_width)


def test_one_step_holds_and_a_picometre_more_does_not() -> None:
    inch = Decimal("0.0127")
    assert zero_holds(-inch, inch)
    assert not zero_holds(Decimal("0.012700001"), inch)
    assert zero_holds(Decimal("0.0254"), inch, allowed_steps=2)


def test_a_closing_zero_that_holds() -> None:
    found = judge_zeros(0, [check(9, "-0.01")], step_mm=STEP)
    assert (found.half_width_mm, found.void, found.verified_up_to) == (Decimal("0.01"), (), 9)
    assert not found.is_rejected


def test_a_lost_zero_voids_the_points_since_the_last_good_one() -> None:
    found = judge_zeros(0, [check(5, "0"), check(9, "0.02"), check(14, "0")], step_mm=STEP)
    assert found.void == (Stretch(5, 9),)
    assert [place for place in range(1, 14) if found.void[0].holds(place)] == [6, 7, 8]
    assert (found.half_width_mm, found.verified_up_to, found.is_rejected) == (Decimal("0.005"), 14, False)


def test_a_zero_lost_twice_rejects_the_gauge() -> None:
    found = judge_zeros(0, [check(9, "0.02"), check(14, "-0.02")], step_mm=STEP)
    assert found.is_rejected
    assert found.void == (Stretch(0, 9), Stretch(9, 14))
    assert found.verified_up_to == 0


@given(st.lists(st.integers(-3, 3), max_size=6))
def test_every_place_is_void_or_covered_by_a_check_that_held(steps: list[int]) -> None:
    checks = [ZeroReading(10 * (n + 1), STEP * value) for n, value in enumerate(steps)]
    found = judge_zeros(0, checks, step_mm=STEP)
    for n, value in enumerate(steps):
        is_void = any(stretch.holds(10 * n + 5) for stretch in found.void)
        assert is_void == (abs(value) > 1)
    assert found.is_rejected == (sum(abs(value) > 1 for value in steps) >= 2)


def test_the_zero_as_found_counts_only_where_it_cannot_be_set() -> None:
    limits = Limits(Decimal("-0.02"), Decimal("0.02"))
    fixed = as_found_zero(Decimal("0.05"), limits=limits, is_fixed=True)
    assert (fixed.is_judged, fixed.is_within) == (True, False)
    assert as_found_zero(Decimal("0.02"), limits=limits, is_fixed=True).is_within is True
    assert as_found_zero(Decimal("0.05"), limits=limits, is_fixed=False).is_within is None
