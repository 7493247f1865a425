"""Intervals by every method: what the worked cases can't show. Second methods, invariants, too little data.

The worked cases themselves (tests/golden/published/interval-cases.json) are asked in test_known_answers.py.
"""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from labsys.errors import LabError
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
from labsys.metrology.intervals.checks import Checks, Renewal, from_records, grouped
from labsys.metrology.intervals.fitting import OutcomesAllAlike, fit, interval_at
from labsys.metrology.intervals.likelihood import Likelihood
from labsys.metrology.intervals.models import MODELS, ModelName
from labsys.metrology.intervals.records import DAYS_PER_MONTH, LeftOut, Record, count, elapsed_months, usable
from labsys.metrology.intervals.reliability import propose_by_model
from labsys.metrology.intervals.responses import equilibrium, simple_response
from labsys.metrology.intervals.staircase import FoundError, Stairs, share_used, staircase
from labsys.metrology.intervals.testing import (
    Aim,
    interval_test,
    propose_by_test,
    propose_simple_exponential,
    within_window,
)
from labsys.metrology.limits import Limits
from tests.labsys.metrology.published import case

D = Decimal
BOUNDS = Bounds(minimum_months=1, maximum_months=60)
counts = st.integers(1, 60).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n)))
reliabilities = st.floats(0.51, 0.99)


def s2() -> dict[str, Any]:
    """Give the worked counts by age."""
    found: dict[str, Any] = next(one for one in case("interval-cases")["cases"] if one["id"] == "S2-1")
    return dict(found["inputs"])


@pytest.fixture(scope="module")
def checks() -> Checks:
    data = s2()
    found = grouped(data["t_months"], data["n"], data["x_in_tol"])
    assert found is not None
    return found


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


# Reliability models


@pytest.mark.parametrize("name", ModelName)
def test_a_law_falls_from_at_most_one_to_nothing(name: ModelName) -> None:
    model = MODELS[name]
    ages = np.array([0.01, 0.5, 2.0, 6.0, 12.0, 40.0, 200.0])
    p = np.full((len(model.parameters), 1, 1), 0.3)
    found = np.exp(model.log_reliability(ages, p)[0])
    assert np.all((found >= 0) & (found <= 1 + 1e-12))
    if name is not ModelName.DRIFT:  # a drift may first come nearer to the middle
        assert all(one >= other - 1e-12 for one, other in pairwise(found))


@pytest.mark.parametrize(
    ("name", "parameters", "law"),
    [
        (ModelName.EXPONENTIAL, [0.05], lambda t: stats.expon.sf(t, scale=1 / 0.05)),
        (ModelName.WEIBULL, [0.05, 1.7], lambda t: stats.weibull_min.sf(t, 1.7, scale=1 / 0.05)),
        (ModelName.MIXED_EXPONENTIAL, [0.05, 1.7], lambda t: stats.lomax.sf(t, 1.7, scale=1 / 0.05)),
        (ModelName.MODIFIED_GAMMA, [0.3], lambda t: stats.gamma.sf(t, 4, scale=1 / 0.3)),
        (ModelName.LOGNORMAL, [0.05, 0.8], lambda t: stats.lognorm.sf(t, 0.8, scale=1 / 0.05)),
        (ModelName.WARRANTY, [0.4, 20.0], lambda t: stats.logistic.sf(t, 20, scale=1 / 0.4)),
        (
            ModelName.DRIFT,
            [2.0, 2.5, 0.1],
            lambda t: stats.norm.cdf(2 + 0.1 * t) - stats.norm.cdf(-2.5 + 0.1 * t),
        ),
    ],
)
def test_a_law_is_that_of_a_statistics_library(name: ModelName, parameters: list[float], law: Any) -> None:
    ages = np.array([0.1, 3.0, 12.0, 30.0])
    at = np.array(parameters)[:, np.newaxis, np.newaxis]
    assert np.exp(MODELS[name].log_reliability(ages, at)[0]) == pytest.approx(law(ages), rel=1e-9)


def test_a_mortality_drift_is_an_integrated_hazard() -> None:
    from scipy.integrate import quad

    a, b = 0.01, 0.002
    hazard, _ = quad(lambda t: a + 2 * b * t, 0, 17)
    at = np.array([a, b])[:, np.newaxis, np.newaxis]
    assert MODELS[ModelName.MORTALITY_DRIFT].log_reliability(np.array([17.0]), at)[0, 0] == pytest.approx(
        -hazard
    )


@pytest.mark.parametrize("name", [ModelName.EXPONENTIAL, ModelName.WEIBULL, ModelName.MORTALITY_DRIFT])
def test_no_neighbour_is_more_likely_than_the_fit(checks: Checks, name: ModelName) -> None:
    """A brute-force grid around the fit, by the textbook's product of binomials written out anew."""
    found = fit(checks, MODELS[name])
    data = s2()
    ages, n, x = (np.array(data[key], dtype=float) for key in ("t_months", "n", "x_in_tol"))

    def log_likelihood(parameters: list[float]) -> float:
        at = np.array(parameters)[:, np.newaxis, np.newaxis]
        R = np.exp(MODELS[name].log_reliability(ages, at)[0])
        return float(np.sum(x * np.log(R) + (n - x) * np.log(1 - R)))

    best = log_likelihood(list(found.parameters))
    assert best == pytest.approx(found.log_likelihood, rel=1e-9)
    for index, _ in enumerate(found.parameters):
        for factor in (0.9, 0.99, 1.01, 1.1):
            moved = list(found.parameters)
            moved[index] *= factor
            assert log_likelihood(moved) <= best + 1e-9


@pytest.mark.parametrize("name", [ModelName.EXPONENTIAL, ModelName.WEIBULL, ModelName.RANDOM_WALK])
def test_interval_limits_put_back_into_the_likelihood_lie_where_they_must(
    checks: Checks, name: ModelName
) -> None:
    """At both ends the best likelihood with that interval is lower by half the chi-squared quantile."""
    from scipy.optimize import minimize

    aim = Aim(target=0.9, confidence=0.95)
    found = propose_by_model(checks, 12, aim=aim, bounds=BOUNDS, models=[name])
    estimate = found.proposal.finding.estimate
    assert estimate is not None and found.compared is not None and found.compared.taken is not None
    best = found.compared.taken.fit
    likelihood = Likelihood(checks, MODELS[name])
    model = MODELS[name]
    wanted = best.log_likelihood - stats.chi2.ppf(0.95, 1) / 2

    def profile(months: float) -> float:
        if len(model.parameters) == 1:
            return float(likelihood(model.pinned(months, 0.9, np.zeros((0, 1))))[0])
        found = max(
            (
                -minimize(lambda u: -float(likelihood(model.pinned(months, 0.9, u.reshape(1, 1)))[0]), [start],
                          method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-9}).fun
                for start in (-3.0, 0.0, 3.0)
            ),
        )  # fmt: skip
        return float(found)

    for end in (estimate.low, estimate.high):
        if 0 < end < math.inf:
            assert profile(end) == pytest.approx(wanted, abs=2e-3)
    assert profile(estimate.value) == pytest.approx(best.log_likelihood, abs=2e-3)


@pytest.mark.parametrize("renewal", [Renewal.ALWAYS, Renewal.IF_FAILED])
def test_a_known_law_is_found_again_under_both_policies(renewal: Renewal) -> None:
    """Items with exponential lives (rate 0.03 a month), looked at every 2 to 30 months (simulated, fixed seed)."""
    rng = np.random.default_rng(11)
    records = []
    for item in range(400):
        life, age = rng.exponential(1 / 0.03), 0.0
        for _ in range(6):
            step = float(rng.uniform(2, 30))
            age += step
            is_in = life > age
            records.append(Record(f"item {item}", step, is_in))
            if renewal is Renewal.ALWAYS or not is_in:
                life, age = rng.exponential(1 / 0.03), 0.0
    checks = from_records(records, renewal)
    assert checks is not None
    found = fit(checks, MODELS[ModelName.EXPONENTIAL])
    assert found.parameters[0] == pytest.approx(0.03, rel=0.1)
    assert interval_at(found, 0.9, checks.longest) == pytest.approx(-math.log(0.9) / 0.03, rel=0.1)
    wear = fit(checks, MODELS[ModelName.WEIBULL])
    assert wear.parameters[1] == pytest.approx(1, abs=0.15), "no wear is found where there is none"


def test_wear_is_found_under_renewal_if_failed_and_lost_under_the_wrong_policy() -> None:
    rng = np.random.default_rng(5)
    records = []
    for item in range(300):
        life, age = 30 * rng.weibull(3), 0.0
        for _ in range(6):
            age += 6.0
            is_in = life > age
            records.append(Record(f"item {item}", 6.0, is_in))
            if not is_in:
                life, age = 30 * rng.weibull(3), 0.0
    right, wrong = (from_records(records, one) for one in (Renewal.IF_FAILED, Renewal.ALWAYS))
    assert right is not None and wrong is not None
    shape = fit(right, MODELS[ModelName.WEIBULL]).parameters[1]
    assert shape == pytest.approx(3, rel=0.15)
    months = interval_at(fit(right, MODELS[ModelName.WEIBULL]), 0.9, right.longest)
    assert months == pytest.approx(30 * (-math.log(0.9)) ** (1 / 3), rel=0.1)
    assert interval_at(fit(wrong, MODELS[ModelName.EXPONENTIAL]), 0.9, wrong.longest) < 0.6 * months


def test_the_least_criterion_is_taken_and_the_spread_between_adequate_models_is_said(checks: Checks) -> None:
    found = propose_by_model(checks, 12, aim=Aim(target=0.9), bounds=BOUNDS)
    assert found.compared is not None and found.compared.taken is not None
    rows = found.compared.rows
    assert [row.fit.aic for row in rows] == sorted(row.fit.aic for row in rows)
    assert rows[0].aic_above_least == 0
    for row in rows:
        assert row.fit.aic == pytest.approx(2 * len(row.fit.parameters) - 2 * row.fit.log_likelihood)
        deviance = row.goodness.p
        assert deviance is None or 0 <= deviance <= 1


# Too little data: an answer, and never a change


@pytest.mark.parametrize("outcomes", [[], [True], [True] * 6, [False] * 6])
def test_what_no_model_can_be_fitted_to_keeps_and_says_what_it_needs(outcomes: list[bool]) -> None:
    records = [Record(f"item {n}", 12.0, one) for n, one in enumerate(outcomes)]
    checks = from_records(records, Renewal.ALWAYS)
    found = propose_by_model(
        checks, 12, aim=Aim(target=0.9), bounds=BOUNDS, data=count(*usable(records))
    ).proposal
    assert (found.outcome.change, found.outcome.months) == (Change.KEEP, 12)
    assert found.finding.needs


@pytest.mark.parametrize("outcomes", [[], [True], [True] * 20, [True] * 19 + [False]])
def test_a_test_that_decides_nothing_keeps_and_says_what_it_needs(outcomes: list[bool]) -> None:
    records = [Record("a", 12.0, one) for one in outcomes]
    found = propose_by_test(within_window(records, 12), 12, aim=Aim(), bounds=BOUNDS)
    assert found.outcome.change is Change.KEEP
    assert "records" in found.finding.needs


@pytest.mark.parametrize("outcomes", [[], [True] * 5, [False] * 5])
def test_the_closed_formula_keeps_where_all_are_alike(outcomes: list[bool]) -> None:
    records = [Record("a", 12.0, one) for one in outcomes]
    found = propose_simple_exponential(within_window(records, 12), 12, aim=Aim(), bounds=BOUNDS)
    assert found.outcome.change is Change.KEEP and found.finding.needs


def test_outcomes_all_alike_are_refused_by_the_fit_itself() -> None:
    checks = grouped([6.0, 12.0], [4, 4], [4, 4])
    assert checks is not None
    with pytest.raises(OutcomesAllAlike):
        fit(checks, MODELS[ModelName.EXPONENTIAL])


def test_records_that_prove_nothing_are_left_out_and_counted() -> None:
    records = [
        Record("a", 12, True), Record("a", 12, False, left_out=LeftOut.DAMAGED),
        Record("b", 0, True), Record("b", 30, True), Record("c", 12, None, left_out=LeftOut.FIRST_EVER),
    ]  # fmt: skip
    found = within_window(records, 12)
    assert (found.used, found.in_tolerance) == (1, 1)
    assert sum(found.left_out.values()) == 4
    assert found.left_out[LeftOut.OUTSIDE_WINDOW.value] == 1


def test_a_record_without_an_outcome_is_refused_by_name() -> None:
    with pytest.raises(LabError, match="neither"):
        usable([Record("a", 12, None)])
    for months in (-1.0, math.nan, math.inf):
        with pytest.raises(LabError):
            Record("a", months, True)


def test_elapsed_time_is_real_time() -> None:
    assert elapsed_months(date(2024, 1, 1), date(2025, 1, 1)) == pytest.approx(366 / DAYS_PER_MONTH)


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
