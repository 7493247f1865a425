"""Reliability models: laws, fits and limits, each by a second method."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy import stats

from labsys.metrology.intervals.assigning import Bounds
from labsys.metrology.intervals.checks import Checks, Renewal, from_records, grouped
from labsys.metrology.intervals.fitting import fit, interval_at
from labsys.metrology.intervals.likelihood import Likelihood
from labsys.metrology.intervals.models import MODELS, ModelName
from labsys.metrology.intervals.records import Record
from labsys.metrology.intervals.reliability import propose_by_model
from labsys.metrology.intervals.testing import (
    Aim,
)
from tests.labsys.metrology.published import case

BOUNDS = Bounds(minimum_months=1, maximum_months=60)


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
