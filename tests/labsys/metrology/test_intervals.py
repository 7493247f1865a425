"""Intervals by every method: what the worked cases can't show. Second methods, invariants, too little data.

The worked cases themselves (tests/golden/published/interval-cases.json) are asked in test_known_answers.py.
"""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from labsys.metrology.intervals import closed
from labsys.metrology.intervals.assigning import Bounds, Cap, Change, assign
from labsys.metrology.intervals.binomial import (
    at_least,
    at_most,
    item_in_group,
    least_n,
    reliability_limits,
    two_sided_p,
)
from labsys.metrology.intervals.responses import equilibrium, simple_response
from labsys.metrology.intervals.staircase import FoundError, Stairs, share_used, staircase
from labsys.metrology.intervals.testing import (
    Aim,
    interval_test,
)
from labsys.metrology.limits import Limits

D = Decimal
BOUNDS = Bounds(minimum_months=1, maximum_months=60)
counts = st.integers(1, 60).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n)))
reliabilities = st.floats(0.51, 0.99)


# Binomial statistics against scipy.stats (a general-purpose library)


@given(counts, reliabilities, st.floats(0.8, 0.99))
def test_exact_limits_and_tails_are_those_of_a_statistics_library(
    counted: tuple[int, int], target: float, confidence: float
) -> None:
    n, x = counted
    found = reliability_limits(n, x, confidence=confidence)
    exact = stats.binomtest(x, n).proportion_ci(confidence, method="exact")
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high), abs=1e-9)
    assert at_most(x, n, target) == pytest.approx(stats.binom.cdf(x, n, target), rel=1e-9, abs=1e-300)
    assert at_least(x, n, target) == pytest.approx(stats.binom.sf(x - 1, n, target), rel=1e-9, abs=1e-300)
    assert two_sided_p(n, x, target) <= 1


@given(counts, reliabilities)
def test_the_test_and_its_limits_decide_alike(counted: tuple[int, int], target: float) -> None:
    """R* outside the limits exactly where one tail of the exact test is smaller than half of 1 − C."""
    n, x = counted
    outcome = interval_test(n, x, 12, Aim(target=target, confidence=0.9))
    tails = (stats.binom.cdf(x, n, target), stats.binom.sf(x - 1, n, target))
    decided = Change.SHORTEN if tails[0] < 0.05 else Change.LENGTHEN if tails[1] < 0.05 else Change.KEEP
    if min(abs(tail - 0.05) for tail in tails) > 1e-9:
        assert outcome.decision is decided


@pytest.mark.parametrize("out", [0, 1, 2, 5])
@pytest.mark.parametrize("target", [0.85, 0.95])
def test_the_least_number_of_records_is_the_least(target: float, out: int) -> None:
    n = least_n(target, out=out)
    assert reliability_limits(n, n - out).low > target
    assert reliability_limits(n - 1, n - 1 - out).low <= target


def test_items_are_told_from_their_group_by_chance_as_often_as_the_threshold_says() -> None:
    rng = np.random.default_rng(7)
    found = rng.binomial(20, 0.9, 4000)
    flagged = sum(item_in_group(20, int(x), 0.9).is_worse for x in found)
    largest = max(x for x in range(21) if stats.binom.cdf(x, 20, 0.9) <= 0.01)
    assert flagged == pytest.approx(4000 * stats.binom.cdf(largest, 20, 0.9), abs=4 * math.sqrt(40))


# Reactive methods and the staircase


@given(st.floats(0.51, 0.95), st.floats(0.01, 0.3))
def test_at_equilibrium_the_interval_stays_on_average(target: float, a: float) -> None:
    """After n outcomes of which R·n are in tolerance, the logarithm is where it began."""
    b = equilibrium(target, a).b_log
    assert target * math.log1p(a) + (1 - target) * math.log1p(-b) == pytest.approx(0, abs=1e-9)


@given(st.lists(st.booleans(), max_size=20))
def test_a_simple_response_is_the_product_of_its_steps(outcomes: list[bool]) -> None:
    found = simple_response(12, outcomes, a=0.1, b=0.4)
    assert len(found) == len(outcomes) + 1
    assert found[-1] == pytest.approx(12 * 1.1 ** sum(outcomes) * 0.6 ** (len(outcomes) - sum(outcomes)))


@pytest.mark.parametrize(
    ("error", "lower", "upper", "U", "share"),
    [
        ("0.006", "-0.01", "0.01", "0", "0.6"),
        ("-0.006", "-0.01", "0.01", "0.002", "0.8"),
        ("0.004", "0", "0.01", "0", "0.2"),  # distance from the middle of unequal limits
        ("0.006", None, "0.01", "0", "0.6"),
        ("-0.006", None, "0.01", "0", "0"),
        ("-0.02", "-0.01", None, "0", "2"),
    ],
)
def test_the_share_of_the_permitted_error(
    error: str, lower: str | None, upper: str | None, U: str, share: str
) -> None:
    limits = Limits(None if lower is None else D(lower), None if upper is None else D(upper))
    assert share_used(FoundError(D(error), limits, D(U))) == D(share)


@pytest.mark.parametrize(
    ("error", "months"), [("0.008", 15), ("0.00800001", 12), ("0.01", 12), ("0.01000001", 6)]
)
def test_a_share_on_the_edge_belongs_below_it(error: str, months: int) -> None:
    found = FoundError(D(error), Limits(D("-0.01"), D("0.01")))
    assert staircase([found], 12, stairs=Stairs(), bounds=BOUNDS).outcome.months == months


# Assignment


@settings(max_examples=300)
@given(
    st.integers(1, 60), st.floats(0, 500), st.integers(1, 24), st.integers(24, 120),
    st.none() | st.floats(1, 100),
)  # fmt: skip
def test_no_assignment_passes_its_bounds(
    assigned: int, raw: float, minimum: int, maximum: int, reach: float | None
) -> None:
    bounds = Bounds(minimum_months=minimum, maximum_months=maximum)
    found = assign(assigned, raw, bounds, reach_months=reach)
    assert 1 <= found.months <= max(maximum, 1)
    assert found.months <= 2 * assigned, "never more than doubled at once"
    if reach is not None and found.change is Change.LENGTHEN and assigned >= minimum:
        assert found.months <= max(reach, assigned)
    if found.change is not Change.KEEP and not found.caps:
        assert found.months == raw


@pytest.mark.parametrize(
    ("assigned", "raw", "months", "cap"),
    [
        (12, 100, 24, Cap.STEP_UP),
        (12, 1, 6, Cap.STEP_DOWN),
        (12, 14.9, 12, Cap.ROUNDING),
        (12, 11.9, 11, Cap.ROUNDING),
        (48, 90, 60, Cap.MAXIMUM),
        (12, 12, 12, None),
    ],
)
def test_what_caps_an_assignment_is_named(assigned: int, raw: float, months: int, cap: Cap | None) -> None:
    found = assign(assigned, raw, BOUNDS)
    assert found.months == months
    assert cap in found.caps if cap is not None else found.caps == ()


@given(st.floats(0.5, 0.99), st.floats(0.5, 0.99), st.floats(1, 60))
def test_the_closed_formula_meets_its_own_target(target: float, observed: float, months: float) -> None:
    found = closed.interval_for(target, months=months, observed=observed)
    rate = -math.log(observed) / months
    assert math.exp(-rate * found) == pytest.approx(target, rel=1e-9)


def test_the_average_over_a_period_is_the_integral() -> None:
    from scipy.integrate import quad

    rate = -math.log(0.95)
    mean, _ = quad(lambda t: math.exp(-rate * t), 0, 1)
    assert closed.average_over_period(0.95) == pytest.approx(mean)
