"""Calibration curves: certified values, general libraries, coverage by brute force, and reading back."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from labsys.metrology.coverage import ProbabilityOutOfRange
from labsys.metrology.fits.crossing import predict_crossing
from labsys.metrology.fits.curve import Curve, PlacesTooFew, fit_curve
from labsys.metrology.fits.inverse import NotReadable, SlopeUnproven, read_back
from labsys.metrology.fits.least_squares import Scatter, TooFewPoints
from labsys.metrology.fits.seeking import LimitsCrossed
from labsys.metrology.fits.series import SeriesUnusable
from tests.labsys.metrology.published import case, printed, recomputed


def curve_of(name: str, degree: int) -> Curve:
    data = case(name)["data"]
    return fit_curve(data["x"], data["y"], degree=degree)


def figures(curve: Curve) -> dict[str, float]:
    found = {f"B{i}": b for i, b in enumerate(curve.coefficients)}
    found |= {f"sd B{i}": math.sqrt(row[i]) for i, row in enumerate(curve.covariance)}
    assert curve.r_squared is not None
    return found | {
        f"residual sd ({curve.solution.nu} df)": curve.solution.s,
        "R^2": curve.r_squared,
        "SS residual": curve.residual_sum,
        "SS regression": curve.regression_sum,
        "F": curve.regression_sum / curve.degree / curve.solution.s**2,
        "MS residual": curve.solution.s**2,
    }


@pytest.mark.parametrize(("name", "degree"), [("nist-norris", 1), ("nist-pontius", 2)])
def test_certified_values_to_eleven_digits(name: str, degree: int) -> None:
    found = figures(curve_of(name, degree))
    for row in case(name)["expected"]:
        if row["quantity"] in found:
            assert found.pop(row["quantity"]) == pytest.approx(float(row["printed"]), rel=1e-11)
    assert set(found) <= {"SS regression", "F", "MS residual"}  # what Pontius doesn't list


def test_the_covariance_of_a_line() -> None:
    name = "cov(B0,B1) (not certified; from a test suite)"
    assert curve_of("nist-norris", 1).covariance[0][1] == pytest.approx(
        recomputed("nist-norris", name), rel=1e-11
    )


def test_a_steep_power_on_far_away_places() -> None:
    # NIST StRD, Wampler1 (from memory): y = 1 + x + … + x⁵ at 0 … 20, certified to be all ones.
    x = np.arange(21.0)
    y = np.polyval([1.0] * 6, x).tolist()
    assert fit_curve(x.tolist(), y, degree=5).coefficients == pytest.approx([1.0] * 6, abs=1e-6)
    # The same places moved by 1000: still what was put in, to the last bits of the largest value (4e6).
    moved = fit_curve((x + 1000).tolist(), y, degree=5)
    for at in (0.5, 10, 19.5):
        assert moved.value(at + 1000) == pytest.approx(np.polyval([1.0] * 6, at), abs=1e-8)


@settings(max_examples=25, deadline=None)
@given(st.integers(1, 4), st.integers(0, 10_000), st.booleans())
def test_weighted_polynomials_against_numpy(degree: int, seed: int, is_absolute: bool) -> None:
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 10, 15))
    u = rng.uniform(0.5, 2, 15)
    y = rng.standard_normal(15) * u + x
    scatter = Scatter.STATED if is_absolute else Scatter.RESIDUAL
    found = fit_curve(x.tolist(), y.tolist(), degree=degree, u=u.tolist(), scatter=scatter)
    b, covariance = np.polyfit(x, y, degree, w=1 / u, cov="unscaled" if is_absolute else True)
    assert found.coefficients == pytest.approx(b[::-1], rel=1e-6, abs=1e-7)
    spread = np.sqrt(np.diag(covariance))
    assert np.array(found.covariance)[::-1, ::-1] / np.outer(spread, spread) == pytest.approx(
        covariance / np.outer(spread, spread), abs=1e-6
    )


def test_a_line_against_general_libraries() -> None:
    rng = np.random.default_rng(3)
    x = np.linspace(0, 150, 12)
    y = 0.002 * x + rng.standard_normal(12) * 0.01
    found = fit_curve(x.tolist(), y.tolist())
    other = stats.linregress(x, y)
    assert found.coefficients == pytest.approx((other.intercept, other.slope), rel=1e-11)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(
        (other.intercept_stderr, other.stderr), rel=1e-11
    )
    assert found.r_squared == pytest.approx(other.rvalue**2, rel=1e-11)
    u = rng.uniform(0.005, 0.02, 12)
    weighted = fit_curve(x.tolist(), y.tolist(), u=u.tolist(), scatter=Scatter.STATED)
    best, covariance = optimize.curve_fit(
        lambda place, b0, b1: b0 + b1 * place, x, y, p0=[0, 0.002], sigma=u, absolute_sigma=True
    )
    assert weighted.coefficients == pytest.approx(best, rel=1e-4)
    assert np.array(weighted.covariance) == pytest.approx(covariance, rel=1e-4)


def test_intervals_of_a_line_by_the_textbook_formula() -> None:
    # s·√(1/n + (x − x̄)²/Sxx), and one more under the root for a further value (e-Handbook 4.5.1.1, 4.5.1.2).
    curve = curve_of("nist-norris", 1)
    x = np.array(case("nist-norris")["data"]["x"])
    share = 1 / 36 + (700 - x.mean()) ** 2 / np.sum((x - x.mean()) ** 2)
    t = stats.t.ppf(0.975, 34)
    mean, new = curve.confidence(700, probability=0.95), curve.prediction(700, probability=0.95)
    assert mean.upper - mean.middle == pytest.approx(t * curve.solution.s * math.sqrt(share), rel=1e-10)
    assert new.upper - new.lower == pytest.approx(2 * t * curve.solution.s * math.sqrt(1 + share), rel=1e-10)
    four = curve.prediction(700, probability=0.95, count=4)
    assert four.u == pytest.approx(curve.solution.s * math.sqrt(1 / 4 + share), rel=1e-10)
    assert curve.slope(700) == pytest.approx(curve.coefficients[1], rel=1e-13)


def test_slope_of_a_polynomial_by_differences() -> None:
    curve = curve_of("nist-pontius", 2)
    step = 1e3
    by_difference = (curve.value(2e6 + step) - curve.value(2e6 - step)) / (2 * step)
    assert curve.slope(2e6) == pytest.approx(by_difference, rel=1e-9)


def test_coverage_of_intervals_and_of_reading_back_by_brute_force() -> None:
    rng = np.random.default_rng(99)
    x, s, runs = np.array([0.0, 25, 50, 75, 100]), 0.01, 1500
    held = np.zeros(4)
    for _ in range(runs):
        curve = fit_curve(x.tolist(), (0.01 * x + s * rng.standard_normal(5)).tolist())
        new = 0.8 + s * rng.standard_normal()
        mean, one = curve.confidence(80, probability=0.9), curve.prediction(80, probability=0.9)
        back = read_back(curve, new, probability=0.9)
        assert back.exact is not None
        held += (
            mean.lower <= 0.8 <= mean.upper,
            one.lower <= new <= one.upper,
            back.exact[0] <= 80 <= back.exact[1],
            back.x - back.U <= 80 <= back.x + back.U,
        )
    # standard error of each share: √(0.9·0.1/1500) = 0.0077
    assert held / runs == pytest.approx([0.9] * 4, abs=0.025)


def test_reading_a_line_back_has_the_covariance_term() -> None:
    curve = curve_of("nist-norris", 1)
    (b0, b1), v = curve.coefficients, curve.covariance
    found = read_back(curve, 400.0, probability=0.95, u_value=0.3)
    assert found.x == pytest.approx((400 - b0) / b1, rel=1e-13)
    whole = (0.3**2 + v[0][0] + found.x**2 * v[1][1] + 2 * found.x * v[0][1]) / b1**2
    assert found.u == pytest.approx(math.sqrt(whole), rel=1e-9)
    without = (0.3**2 + v[0][0] + found.x**2 * v[1][1]) / b1**2
    assert found.u < 0.99 * math.sqrt(without)  # leaving the covariance out would be seen
    # Welch-Satterthwaite over reading (no doubt) and curve (34 degrees of freedom)
    assert found.nu == pytest.approx(34 * found.u**4 / found.u_curve**4, rel=1e-12)
    assert not found.is_extrapolated and read_back(curve, 1200.0, probability=0.95).is_extrapolated


def test_exact_limits_lie_on_the_prediction_band() -> None:
    curve = curve_of("nist-norris", 1)
    found = read_back(curve, 400.0, probability=0.95)
    assert found.exact is not None
    low, high = found.exact
    assert curve.prediction(low, probability=0.95).upper == pytest.approx(400, rel=1e-12)
    assert curve.prediction(high, probability=0.95).lower == pytest.approx(400, rel=1e-12)


def test_reading_a_parabola_back_against_the_handbook() -> None:
    found = read_back(curve_of("nist-pontius", 2), 1.239722, probability=0.95)
    assert found.x == pytest.approx(printed("nist-pontius", "x at y = 1.239722"), abs=0.5)
    assert found.x - found.U == pytest.approx(printed("nist-pontius", "lower 95 % limit of x"), abs=0.5)
    assert found.x + found.U == pytest.approx(printed("nist-pontius", "upper 95 % limit of x"), abs=0.5)


def test_what_cannot_be_read_back() -> None:
    valley = fit_curve([-2, -1, 0, 1, 2], [4.1, 0.9, 0.1, 1.1, 3.9], degree=2)
    with pytest.raises(NotReadable, match="2 times"):
        read_back(valley, 1.0, probability=0.95)
    with pytest.raises(NotReadable, match="0 times"):
        read_back(valley, 9.0, probability=0.95)
    flat = fit_curve([0, 1, 2, 3], [1.0, 1.0, 1.0, 1.0])
    with pytest.raises(NotReadable):
        read_back(flat, 1.5, probability=0.95)
    noisy = fit_curve([0, 1, 2, 3], [1.0, -1.0, 1.1, -0.9])
    with pytest.raises(SlopeUnproven):
        read_back(noisy, 0.5, probability=0.95)
    for count, value, u in ((0, 1.0, None), (1, math.nan, None), (1, 1.0, -1.0)):
        with pytest.raises(SeriesUnusable):
            read_back(valley, value, probability=0.95, count=count, u_value=u)


def test_drift_line_to_a_limit() -> None:
    inputs = case("cc-2")["inputs"]
    curve = fit_curve(inputs["t_months"], inputs["dev_um"])
    near = case("cc-2")["rel_tol"] / 100
    assert curve.coefficients[0] == pytest.approx(printed("cc-2", "intercept"), rel=near)
    assert curve.coefficients[1] == pytest.approx(printed("cc-2", "slope"), rel=near)
    assert curve.solution.s == pytest.approx(printed("cc-2", "s"), rel=near)
    found = predict_crossing(
        curve, lower=None, upper=inputs["limit_um"], guard=inputs["U_um"], probability=0.95
    )
    assert found.mean_time == pytest.approx(printed("cc-2", "t_reach_limit_minus_U"), rel=near)
    # The note of the case: the upper prediction limit is the one to act on.
    assert curve.prediction(found.prediction_time, probability=0.95).upper == pytest.approx(0.39, rel=1e-12)
    assert found.last_seen == 48 < found.prediction_time < found.mean_time


def test_a_limit_that_was_reached_and_one_that_is_never_reached() -> None:
    curve = fit_curve([0, 12, 24, 36], [0.1, 0.21, 0.29, 0.41])
    assert predict_crossing(curve, lower=None, upper=0.3, probability=0.95).mean_time == 36
    assert predict_crossing(curve, lower=-1, upper=None, probability=0.95).mean_time == math.inf
    with pytest.raises(LimitsCrossed):
        predict_crossing(curve, lower=-0.5, upper=0.5, guard=0.5, probability=0.95)


@pytest.mark.parametrize(
    ("x", "y", "degree", "fault"),
    [
        ([], [], 1, SeriesUnusable),
        ([1.0], [1.0], 1, PlacesTooFew),
        ([5, 5, 5], [1, 2, 3], 1, PlacesTooFew),
        ([5, 5, 6, 6], [1, 2, 3, 4], 2, PlacesTooFew),
        ([1, 2], [1, 2], 1, TooFewPoints),
        ([1, 2, 3], [1, 2], 1, SeriesUnusable),
        ([1, 2, math.nan], [1, 2, 3], 1, SeriesUnusable),
        ([1, 2, 3], [1, 2, math.inf], 1, SeriesUnusable),
        ([1, 2, 3], [1e308, -1e308, 1e308], 1, SeriesUnusable),
        ([1, 2, 3], [1, 2, 3], -1, SeriesUnusable),
    ],
)
def test_unusable_points(x: list[float], y: list[float], degree: int, fault: type[Exception]) -> None:
    with pytest.raises(fault):
        fit_curve(x, y, degree=degree)


def test_points_without_scatter_and_refused_questions() -> None:
    exact = fit_curve([0, 1, 2], [1, 1, 1])
    assert exact.solution.s == 0 and exact.r_squared is None
    assert exact.is_extrapolated(2.1) and not exact.is_extrapolated(2.0)
    with pytest.raises(ProbabilityOutOfRange):
        exact.confidence(1, probability=95)
    with pytest.raises(SeriesUnusable):
        exact.prediction(1, probability=0.95, count=0)
