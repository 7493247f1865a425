"""Drift: the fit through the origin, its prediction, and the time at which a limit is reached."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from labsys.metrology.fits.drift import (
    Drift,
    NoScatter,
    fit_drift,
    predict_reach,
    predict_uncertainty_reach,
    reliability_at,
)
from labsys.metrology.fits.least_squares import Scatter, TooFewPoints, Undetermined
from labsys.metrology.fits.seeking import LimitsCrossed, last_time
from labsys.metrology.fits.series import SeriesUnusable
from tests.labsys.metrology.published import case, printed

VAR_1 = case("var-1")["inputs"]
LIMIT = VAR_1["limit_um"]


def drift_of_var_1() -> Drift:
    return fit_drift(VAR_1["dt_months"], VAR_1["dy_um"])


def near(quantity: str) -> object:
    return pytest.approx(printed("var-1", quantity), rel=case("var-1")["rel_tol"] / 100)


def test_var_1() -> None:
    drift = drift_of_var_1()
    assert drift.rate == near("slope_um_per_month")
    assert drift.solution.s == near("s_um")
    found = predict_reach(
        drift, as_left=VAR_1["as_left_um"], lower=-LIMIT, upper=LIMIT, reliability=VAR_1["R_target"]
    )
    assert found.time == near("I_reliability_months")
    assert (found.longest, found.is_beyond_data) == (24.0, True)
    at_12 = reliability_at(drift, 12, as_left=VAR_1["as_left_um"], lower=-LIMIT, upper=LIMIT)
    assert at_12 == near("R_at_12")
    assert math.hypot(VAR_1["u0_um"], drift.s_prediction(12)) == near("u_at_12")
    reach = predict_uncertainty_reach(drift, u_start=VAR_1["u0_um"], u_required=VAR_1["u_required_um"])
    assert reach.time == near("I_uncertainty_months")


def test_the_line_through_the_origin_against_certified_values() -> None:
    data = case("nist-noint1")["data"]
    drift = fit_drift(data["x"], data["y"])
    assert drift.rate == pytest.approx(printed("nist-noint1", "B1"), rel=1e-14)
    assert math.sqrt(drift.solution.covariance[0][0]) == pytest.approx(
        printed("nist-noint1", "sd B1"), rel=1e-13
    )
    assert drift.solution.s == pytest.approx(printed("nist-noint1", "residual sd (10 df)"), rel=1e-13)
    assert drift.solution.nu == 10


@pytest.mark.parametrize("degree", [1, 2, 3])
def test_weighted_powers_against_a_general_library(degree: int) -> None:
    rng = np.random.default_rng(11)
    t = np.linspace(3, 24, 12)
    u = rng.uniform(0.05, 0.3, t.size)
    y = 0.1 * t - 0.002 * t**2 + u * rng.standard_normal(t.size)
    design = t[:, None] ** np.arange(1, degree + 1)

    def model(_: object, *b: float) -> npt.NDArray[np.float64]:
        return np.asarray(design @ np.array(b))

    for scatter, is_absolute in ((Scatter.STATED, True), (Scatter.RESIDUAL, False)):
        found = fit_drift(t.tolist(), y.tolist(), degree=degree, u=u.tolist(), scatter=scatter)
        b, covariance = optimize.curve_fit(
            model, t, y, p0=[0.1] * degree, sigma=u, absolute_sigma=is_absolute
        )
        # curve_fit walks to the minimum by finite differences, so it is good to about the root of the last bit.
        spread = np.sqrt(np.diag(covariance))
        assert np.abs(np.array(found.solution.coefficients) - b).max() < 1e-4 * spread.max()
        assert np.array(found.solution.covariance) == pytest.approx(covariance, rel=1e-5)


def test_reliability_is_students_share_between_the_limits() -> None:
    drift = drift_of_var_1()
    frozen = stats.t(9, loc=0.5 + drift.change(30), scale=drift.s_prediction(30))
    whole = reliability_at(drift, 30, as_left=0.5, lower=-4, upper=4)
    assert whole == pytest.approx(frozen.cdf(4) - frozen.cdf(-4), rel=1e-12)
    assert reliability_at(drift, 30, as_left=0.5, lower=None, upper=4) == pytest.approx(
        frozen.cdf(4), rel=1e-12
    )
    assert reliability_at(drift, 30, as_left=0.5, lower=3, upper=None) == pytest.approx(
        frozen.sf(3), rel=1e-12
    )


def test_stated_uncertainties_predict_normally() -> None:
    drift = fit_drift([6, 12, 18], [0.5, 1.3, 1.7], u=[0.1, 0.1, 0.1], scatter=Scatter.STATED)
    weight = 6**2 + 12**2 + 18**2
    spread = math.sqrt(0.1**2 + 0.1**2 * 20**2 / weight)
    rate = (6 * 0.5 + 12 * 1.3 + 18 * 1.7) / weight
    found = reliability_at(drift, 20, as_left=0, lower=None, upper=2.2, u_new=0.1)
    assert found == pytest.approx(stats.norm.cdf((2.2 - 20 * rate) / spread), rel=1e-12)


@settings(max_examples=25, deadline=None)
@given(st.floats(-0.2, 0.2), st.floats(0.05, 0.6), st.floats(0.6, 0.99), st.floats(-1, 1))
def test_a_predicted_time_holds_and_the_next_does_not(
    rate: float, s: float, target: float, as_left: float
) -> None:
    noise = np.random.default_rng(5).standard_normal(10) * s
    times = np.arange(3.0, 33.0, 3.0)
    drift = fit_drift(times.tolist(), (rate * times + noise).tolist())

    def reliability(elapsed: float) -> float:
        return reliability_at(drift, elapsed, as_left=as_left, lower=-2, upper=2)

    found = predict_reach(drift, as_left=as_left, lower=-2, upper=2, reliability=target).time
    if found == 0:
        assert reliability(0.0) < target
    else:
        assert math.isfinite(found)
        assert reliability(found) >= target > reliability(found * (1 + 1e-9))
        assert all(reliability(found * share) >= target for share in np.linspace(0, 1, 50))


def test_coverage_of_the_prediction_by_brute_force() -> None:
    # The real share of further changes below the upper limit, over many repeated histories, is the promised one.
    rng = np.random.default_rng(2024)
    times, rate, s, target = np.array([6.0, 6, 12, 12, 18, 24]), 0.1, 0.2, 0.9
    held = []
    for _ in range(400):
        drift = fit_drift(times.tolist(), (rate * times + s * rng.standard_normal(6)).tolist())
        # the upper limit at which the promise at 30 is exactly the target
        limit = drift.change(30) + stats.t.ppf(target, 5) * drift.s_prediction(30)
        assert reliability_at(drift, 30, as_left=0, lower=None, upper=limit) == pytest.approx(target)
        held.extend(rate * 30 + s * rng.standard_normal(50) <= limit)
    # 400 histories of clustered draws: standard error about 0.007
    assert np.mean(held) == pytest.approx(target, abs=0.02)


def test_a_target_that_does_not_hold_from_the_beginning() -> None:
    drift = drift_of_var_1()
    assert predict_reach(drift, as_left=3.9, lower=-4, upper=4, reliability=0.95).time == 0
    assert predict_uncertainty_reach(drift, u_start=0.7, u_required=0.6).time == 0


def test_what_never_ends_and_what_ends_between_two_steps() -> None:
    assert last_time(lambda _: True, 24.0) == math.inf
    assert last_time(lambda elapsed: elapsed <= 1 / 3, 24.0) == pytest.approx(1 / 3, rel=1e-15)
    assert last_time(lambda elapsed: elapsed < 1000 or elapsed > 2000, 24.0) == pytest.approx(1000, rel=1e-12)


@pytest.mark.parametrize(
    ("elapsed", "changes", "fault"),
    [
        ([], [], SeriesUnusable),
        ([6], [0.1], TooFewPoints),
        ([0, 0, 0], [0.1, 0.2, 0.1], Undetermined),
        ([-1, 6], [0.1, 0.2], SeriesUnusable),
        ([6, math.nan], [0.1, 0.2], SeriesUnusable),
        ([6, 12], [0.1, math.inf], SeriesUnusable),
        ([6, 12, 18], [0.1, 0.2], SeriesUnusable),
        ([1e200, 2e200], [1e300, 1e308], SeriesUnusable),
    ],
)
def test_unusable_histories(elapsed: list[float], changes: list[float], fault: type[Exception]) -> None:
    with pytest.raises(fault):
        fit_drift(elapsed, changes)


def test_one_time_does_not_tell_two_powers_apart() -> None:
    with pytest.raises(Undetermined, match="coefficient 2"):
        fit_drift([12, 12, 12, 12], [1, 2, 3, 4], degree=2)
    with pytest.raises(SeriesUnusable, match="degree"):
        fit_drift([12, 13], [1, 2], degree=0)


def test_refusals_of_a_prediction() -> None:
    drift = drift_of_var_1()
    for lower, upper in ((None, None), (4, -4), (4, 4)):
        with pytest.raises(LimitsCrossed):
            reliability_at(drift, 12, as_left=0, lower=lower, upper=upper)
    with pytest.raises(SeriesUnusable, match="reliability"):
        predict_reach(drift, as_left=0, lower=-4, upper=4, reliability=1.0)
    with pytest.raises(SeriesUnusable, match="above zero"):
        predict_uncertainty_reach(drift, u_start=math.nan, u_required=1)
    with pytest.raises(NoScatter):
        predict_reach(fit_drift([1, 2, 3], [0, 0, 0]), as_left=0, lower=-4, upper=4, reliability=0.9)


def test_uncertainties_must_fit_and_a_weighted_fit_needs_that_of_the_further_value() -> None:
    for u in ([0.1], [0.1, 0.0, 0.1], [0.1, -1, 0.1]):
        with pytest.raises(SeriesUnusable):
            fit_drift([6, 12, 18], [1, 2, 3], u=u)
    with pytest.raises(SeriesUnusable, match="uncertainty of every value"):
        fit_drift([6, 12, 18], [1, 2, 3], scatter=Scatter.STATED)
    weighted = fit_drift([6, 12, 18], [1, 2.1, 3], u=[0.1, 0.2, 0.1])
    with pytest.raises(SeriesUnusable, match="further value"):
        weighted.s_prediction(12)
    with pytest.raises(SeriesUnusable, match="further value"):
        weighted.s_prediction(12, u_new=0)
