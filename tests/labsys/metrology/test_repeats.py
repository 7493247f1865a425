"""Repeats: the least margin is judged, a spread beyond the limit rejects."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.limits import Limits
from labsys.metrology.repeats import NothingRead, judge_repeats, spread_allowed

LIMITS = Limits(Decimal("-0.03"), Decimal("0.02"))


def errors(*texts: str) -> list[Decimal]:
    return [Decimal(text) for text in texts]


def test_the_reading_with_the_least_margin_is_judged() -> None:
    # +0.01 is 0.01 from the upper limit, −0.015 is 0.015 from the lower one: not the largest error counts.
    found = judge_repeats(errors("0.00", "0.01", "-0.015"), limits=LIMITS)
    assert (found.index, found.error_mm) == (1, Decimal("0.01"))
    assert (found.spread_mm, found.allowed_mm) == (Decimal("0.025"), Decimal("0.025"))
    assert not found.is_rejected


def test_a_spread_beyond_half_the_width_rejects() -> None:
    assert judge_repeats(errors("0.01", "-0.0151"), limits=LIMITS).is_rejected


def test_an_own_limit_comes_first() -> None:
    own = judge_repeats(errors("0.00", "0.01"), limits=LIMITS, spread_limit_mm=Decimal("0.005"))
    assert (own.allowed_mm, own.is_rejected) == (Decimal("0.005"), True)


def test_a_limit_on_one_side_has_no_width() -> None:
    one_sided = Limits(None, Decimal("0.02"))
    assert spread_allowed(one_sided, spread_limit_mm=None) is None
    assert not judge_repeats(errors("0", "1"), limits=one_sided).is_rejected
    assert spread_allowed(one_sided, spread_limit_mm=Decimal("0.01")) == Decimal("0.01")


def test_without_limits_the_furthest_from_zero_is_picked() -> None:
    assert judge_repeats(errors("0.01", "-0.02", "0.015"), limits=Limits(None, None)).index == 1


def test_a_point_without_readings() -> None:
    with pytest.raises(NothingRead):
        judge_repeats([], limits=LIMITS)


@given(st.lists(st.integers(-50, 50), min_size=1, max_size=10))
def test_no_reading_is_closer_to_a_limit_than_the_judged(steps: list[int]) -> None:
    found = judge_repeats([Decimal(step) / 100 for step in steps], limits=LIMITS)
    margins = [LIMITS.margin(Decimal(step) / 100) for step in steps]
    assert LIMITS.margin(found.error_mm) == min(margins)
    assert margins.index(min(margins)) == found.index
