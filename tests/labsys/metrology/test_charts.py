"""Charts: frozen limits, pooled spreads, t and F tests, moving averages, run rules, the check of a line."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from labsys.metrology.charts.baseline import (
    Baseline,
    BaselineTooShort,
    BaselineWithoutSpread,
    ChartStatus,
    SpreadMethod,
    freeze,
)
from labsys.metrology.charts.constants import D2, D3, RANGE_LIMIT, c4, moving_range_freedom
from labsys.metrology.charts.ewma import averages, half_width, settled_half_width
from labsys.metrology.charts.line_check import CalibrationLine, check_line
from labsys.metrology.charts.means import Group, MeansWithoutSpread, compare_means
from labsys.metrology.charts.rules import PATTERNS, RuleSet, signals
from labsys.metrology.charts.spread import Spread, SpreadUnusable, compare_spreads, pool, spread_limit
from labsys.metrology.coverage import ProbabilityOutOfRange, TooLittleFreedom
from labsys.metrology.fits.series import SeriesUnusable
from tests.labsys.metrology.published import case, printed, recomputed


def last_digit(name: str, quantity: str) -> object:
    """Compare with half a unit of the last printed digit."""
    text = next(row["printed"] for row in case(name)["expected"] if row["quantity"] == quantity)
    decimals = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5000001 * 10**-decimals)


def test_constants_by_integration_and_as_tabled() -> None:
    density = stats.norm(scale=math.sqrt(2)).pdf
    mean = 2 * integrate.quad(lambda r: r * density(r), 0, 20)[0]
    square = 2 * integrate.quad(lambda r: r * r * density(r), 0, 20)[0]
    assert pytest.approx(mean, rel=1e-10) == D2
    assert pytest.approx(math.sqrt(square - mean**2), rel=1e-9) == D3
    # ISO 7870-2:2013, table of constants (from memory): d2 1.128, d3 0.853, D4 3.267 and c4.
    assert (round(D2, 3), round(D3, 3), round(RANGE_LIMIT, 3)) == (1.128, 0.853, 3.267)
    assert [round(c4(n), 4) for n in (2, 5, 10, 25)] == [0.7979, 0.9400, 0.9727, 0.9896]


def test_freedom_of_the_mean_moving_range_by_simulation() -> None:
    rng = np.random.default_rng(6)
    for count in (5, 12, 30):
        ranges = np.abs(np.diff(rng.standard_normal((60_000, count)), axis=1)).mean(axis=1) / D2
        assert ranges.mean() == pytest.approx(1, abs=0.01)
        assert 1 / (2 * ranges.var()) == pytest.approx(moving_range_freedom(count), rel=0.03)


def test_individuals_chart_of_the_handbook() -> None:
    name = "nist-individuals"
    baseline = freeze(case(name)["data"]["values"], method=SpreadMethod.MOVING_RANGE)
    lower, upper = baseline.limits(3)
    assert baseline.centre == last_digit(name, "centre line")
    assert baseline.s * D2 == last_digit(name, "mean moving range")
    # The handbook divides by the tabled 1.128.
    assert baseline.centre + (upper - baseline.centre) * D2 / 1.128 == last_digit(name, "UCL")
    assert baseline.centre - (baseline.centre - lower) * D2 / 1.128 == last_digit(name, "LCL")
    assert baseline.largest_moving_range == pytest.approx(3.267 * 1.8778, rel=5e-4)


def test_cc_1() -> None:
    inputs, near = case("cc-1")["inputs"], case("cc-1")["rel_tol"] / 100
    baseline = freeze(inputs["baseline_mm"])
    assert baseline.centre == pytest.approx(printed("cc-1", "mean"), rel=1e-9)
    assert baseline.s * 1000 == pytest.approx(printed("cc-1", "s_um"), rel=near)
    for quantity, multiple in (("warning_2s", 2), ("action_3s", 3)):
        lower, upper = baseline.limits(multiple)
        assert lower == pytest.approx(printed("cc-1", f"{quantity}.0"), abs=1e-9)
        assert upper == pytest.approx(printed("cc-1", f"{quantity}.1"), abs=1e-9)
    assert baseline.z(inputs["new_mm"]) == pytest.approx(printed("cc-1", "new_z"), rel=near)
    status = next(row["printed"] for row in case("cc-1")["expected"] if row["quantity"] == "new_status")
    assert baseline.judge(inputs["new_mm"]) == ChartStatus(status)
    weight = inputs["ewma_lambda"]
    for index, one in enumerate(averages(inputs["ewma_values"], baseline, weight=weight)):
        assert one.average == pytest.approx(printed("cc-1", f"ewma.{index}"), abs=5e-8)
    settled = settled_half_width(baseline.s, weight=weight)
    assert settled * 1000 == pytest.approx(printed("cc-1", "ewma_3s_halfwidth_um"), rel=near)


def test_a_value_on_a_limit_is_inside_it() -> None:
    baseline = freeze(case("cc-1")["inputs"]["baseline_mm"])
    # 25.00115 ± 0.2 µm and ± 0.3 µm, which binary fractions don't hold exactly
    assert baseline.judge(25.00135) is baseline.judge(25.00095) is ChartStatus.IN
    assert baseline.judge(25.00145) is baseline.judge(25.00085) is ChartStatus.WARNING
    assert baseline.judge(25.0013501) is ChartStatus.WARNING
    assert baseline.judge(25.0014501) is baseline.judge(25.0008499) is ChartStatus.OUT


def test_check_standard_of_the_handbook() -> None:
    name = "nist-check-standard"
    rows = case(name)["data"]["month_day_value_s"]
    baseline = freeze([row[2] for row in rows])
    assert baseline.count == printed(name, "K")
    assert baseline.s == pytest.approx(printed(name, "s2 of daily values (24 df)"), abs=5e-6)
    assert baseline.centre == pytest.approx(recomputed(name, "grand mean"), rel=1e-12)
    pooled = pool([Spread(row[3], 5) for row in rows])
    assert pooled.s == pytest.approx(printed(name, "s1 pooled (125 df)"), abs=5e-6)
    assert pooled.nu == 125
    lower, upper = baseline.limits(3)
    assert lower == pytest.approx(recomputed(name, "3 s2 limits low"), rel=1e-12)
    assert upper == pytest.approx(recomputed(name, "3 s2 limits high"), rel=1e-12)
    lower, upper = baseline.student_limits(0.95)
    assert lower == pytest.approx(recomputed(name, "t0.975(24) limits low"), rel=1e-12)
    assert upper == pytest.approx(recomputed(name, "t0.975(24) limits high"), rel=1e-12)
    for probability in (0.95, 0.99):
        most = spread_limit(pooled, nu_new=5, probability=probability)
        assert most == pytest.approx(recomputed(name, f"UCL for one s (F {probability}; 5,125)"), rel=1e-9)


def test_differences_among_gauges() -> None:
    name = "nist-gauge-differences"
    table = np.array(case(name)["data"]["matrix"])
    columns = [freeze(column.tolist()) for column in table.T]
    for artefact, column in zip(range(138, 143), columns, strict=True):
        assert column.s == pytest.approx(
            printed(name, f"s.d. over gauges, artefact {artefact}"), abs=5.0001e-6
        )
    pooled = pool([Spread(column.s, column.nu) for column in columns])
    assert pooled.nu == 20
    assert pooled.s == pytest.approx(recomputed(name, "pooled s.d. (20 df)"), rel=1e-11)
    for artefact, column, value in ((138, columns[0], table[4, 0]), (142, columns[4], table[4, 4])):
        deviation = value - column.centre
        assert deviation == pytest.approx(printed(name, f"deviation of gauge 2362 on {artefact}"), abs=1.5e-4)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.lists(st.floats(-5, 5), min_size=2, max_size=8), min_size=1, max_size=6))
def test_pooling_is_what_deviations_from_own_means_give(groups: list[list[float]]) -> None:
    pooled = pool([Spread(float(np.std(one, ddof=1)), len(one) - 1) for one in groups])
    squares = sum(float(np.sum((np.array(one) - np.mean(one)) ** 2)) for one in groups)
    assert pooled.nu == sum(len(one) - 1 for one in groups)
    assert pooled.s == pytest.approx(math.sqrt(squares / pooled.nu), abs=1e-12)


def test_two_means_of_the_handbook() -> None:
    name, inputs = "nist-two-means", case("nist-two-means")["inputs"]
    one, other = (Group(*row) for row in zip(inputs["mean"], inputs["s"], inputs["count"], strict=True))
    found = compare_means(one, other)
    assert pool([one.spread, other.spread]).s == last_digit(name, "pooled s")
    # from means and spreads rounded to five decimals
    assert found.t == pytest.approx(printed(name, "T"), abs=5e-5)
    assert found.nu == printed(name, "nu")
    assert compare_means(one, other, has_equal_spread=False).t == pytest.approx(
        printed(name, "T, unequal"), abs=5e-5
    )


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 12), st.integers(2, 12), st.booleans())
def test_t_and_f_against_a_statistics_library(seed: int, n: int, m: int, is_equal: bool) -> None:
    rng = np.random.default_rng(seed)
    x, y = rng.standard_normal(n), 0.5 + 2 * rng.standard_normal(m)
    first, second = (Group(float(v.mean()), float(v.std(ddof=1)), len(v)) for v in (x, y))
    found, other = (
        compare_means(first, second, has_equal_spread=is_equal),
        stats.ttest_ind(x, y, equal_var=is_equal),
    )
    assert (found.t, found.nu, found.p_value) == pytest.approx(
        (other.statistic, other.df, other.pvalue), rel=1e-9
    )
    tested = compare_spreads(first.spread, second.spread)
    F = x.var(ddof=1) / y.var(ddof=1)
    p = 2 * min(stats.f.cdf(F, n - 1, m - 1), stats.f.sf(F, n - 1, m - 1))
    assert (tested.F, tested.p_value) == pytest.approx((F, min(1, p)), rel=1e-9)
    assert compare_spreads(second.spread, first.spread).p_value == pytest.approx(tested.p_value, rel=1e-9)


def test_two_spreads_of_the_handbook() -> None:
    name, inputs = "nist-two-spreads", case("nist-two-spreads")["inputs"]
    one, other = (Spread(s, n - 1) for s, n in zip(inputs["s"], inputs["count"], strict=True))
    assert last_digit(name, "F") == compare_spreads(one, other).F
    for probability in (0.025, 0.975):
        ratio = spread_limit(Spread(1.0, 239), nu_new=239, probability=probability) ** 2
        assert ratio == last_digit(name, f"F at {probability}")
        assert compare_spreads(Spread(math.sqrt(ratio), 239), Spread(1, 239)).p_value == pytest.approx(0.05)


def test_a_single_new_value_borrows_the_baselines_spread() -> None:
    found = compare_means(Group(10.5, 0.0, 1), Group(10.0, 0.2, 20))
    assert found.nu == 19
    assert found.t == pytest.approx(0.5 / (0.2 * math.sqrt(1 + 1 / 20)))


def test_ewma_of_the_handbook() -> None:
    name, inputs = "nist-ewma", case("nist-ewma")["inputs"]
    baseline = Baseline(inputs["centre"], inputs["s"], math.inf, 100, SpreadMethod.STANDARD_DEVIATION)
    found = averages(
        case(name)["data"]["values"], baseline, weight=inputs["weight"], multiple=inputs["multiple"]
    )
    for index, one in enumerate(found, 1):
        assert one.average == last_digit(name, f"EWMA {index}")
        assert not one.is_out
    width = settled_half_width(baseline.s, weight=0.3)
    # The handbook rounds √(0.3/1.7) = 0.42008 to 0.4201.
    assert 50 + width == pytest.approx(printed(name, "UCL"), abs=2e-4)
    assert 50 - width == pytest.approx(printed(name, "LCL"), abs=2e-4)
    assert found[-1].half_width == pytest.approx(width, rel=1e-5)


@pytest.mark.parametrize("weight", [0.05, 0.2, 0.6, 1.0])
def test_ewma_limits_by_simulation_and_recursion(weight: float) -> None:
    draws = np.random.default_rng(12).standard_normal((20_000, 8))
    average, variance = np.zeros(20_000), 0.0
    for index in range(1, 9):
        average = weight * draws[:, index - 1] + (1 - weight) * average
        variance = weight**2 + (1 - weight) ** 2 * variance
        assert half_width(index, 1.0, weight=weight, multiple=1.0) == pytest.approx(
            math.sqrt(variance), rel=1e-12
        )
        assert average.std() == pytest.approx(math.sqrt(variance), rel=0.02)
    assert settled_half_width(2.0, weight=weight) == pytest.approx(
        half_width(10_000, 2.0, weight=weight), rel=1e-12
    )


def test_a_small_lasting_shift_is_seen_by_the_average_before_the_limits() -> None:
    baseline = Baseline(0.0, 1.0, math.inf, 50, SpreadMethod.STANDARD_DEVIATION)
    values = [1.5] * 12
    assert all(baseline.judge(value) is ChartStatus.IN for value in values)
    assert any(one.is_out for one in averages(values, baseline, weight=0.2))


def found_in(z: list[float], rules: RuleSet) -> list[tuple[str, int, int]]:
    return [(one.pattern, one.index, one.first) for one in signals(z, rules)]


def test_zone_rules_of_western_electric() -> None:
    rules = RuleSet.WESTERN_ELECTRIC
    assert found_in([0.5, -3.1, 0.2], rules) == [("one beyond 3 s", 1, 1)]
    assert found_in([2.1, 0.0, 2.2], rules) == [("2 of 3 beyond 2 s on one side", 2, 0)]
    assert found_in([2.1, 0.0, -2.2], rules) == []
    # complete with the second value; the third, back at the centre, doesn't signal again
    assert found_in([2.1, 2.2, 0.0], rules) == [("2 of 3 beyond 2 s on one side", 1, 0)]
    assert found_in([2.1, 0.0, 0.1, 2.2], rules) == []
    assert found_in([1.1, 1.2, -0.5, 1.3, 1.4], rules) == [("4 of 5 beyond 1 s on one side", 4, 0)]
    assert found_in([0.1] * 8, rules) == [("8 in a row on one side of the centre", 7, 0)]
    assert found_in([0.1] * 7 + [0.0] + [0.1], rules) == []


def test_values_on_a_line_are_not_beyond_it() -> None:
    for rules in RuleSet:
        assert found_in([3.0, -3.0 * (1 + 1e-12), 0.5], rules) == []
    assert found_in([2.0, 2.0, 2.0], RuleSet.WESTERN_ELECTRIC) == []


def test_the_eight_tests() -> None:
    rules = RuleSet.ISO_8258
    assert len(PATTERNS[rules]) == 8
    assert found_in([0.1] * 9, rules) == [("9 in a row on one side of the centre", 8, 0)]
    assert found_in([0.5, 0.3, 0.1, -0.1, -0.3, -0.5], rules) == [("6 in a row rising or falling", 5, 0)]
    assert found_in([0.5, 0.3, 0.1, 0.1, -0.3, -0.5], rules) == []
    assert found_in([0.5, -0.5] * 7, rules) == [("14 in a row alternating up and down", 13, 0)]
    within = [0.9, 0.5, -0.2, -0.9, 0.3, 0.2, 0.8, -0.4, -0.5, 0.1, 0.4, 0.7, -0.9, -0.2, 0.0]
    assert found_in(within, rules) == [("15 in a row within 1 s", 14, 0)]
    outside = [1.1, -1.2, -1.5, 1.2, 1.3, -1.1, 1.4, -1.2]
    assert found_in(outside, rules) == [("8 in a row beyond 1 s on either side", 7, 0)]


def test_the_pattern_tests_of_iso_7870_2() -> None:
    assert found_in([0.1] * 7, RuleSet.ISO_7870_2) == [("7 in a row on one side of the centre", 6, 0)]
    rising = [-0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3]
    assert found_in(rising, RuleSet.ISO_7870_2) == [("7 in a row rising or falling", 6, 0)]


def test_false_alarms_of_the_zone_rules_are_as_rare_as_known() -> None:
    # Average run length of all four Western Electric rules in control: 91.75 (Champ & Woodall 1987, from memory).
    rng = np.random.default_rng(31)
    runs = []
    for _ in range(250):
        z = rng.standard_normal(700).tolist()
        first = next((one.index + 1 for one in signals(z[:150], RuleSet.WESTERN_ELECTRIC)), None)
        if first is None:
            first = next((one.index + 1 for one in signals(z, RuleSet.WESTERN_ELECTRIC)), 700)
        runs.append(first)
    # standard error about 91/√250 = 5.8
    assert np.mean(runs) == pytest.approx(91.75, abs=18)


LINEWIDTH = case("nist-linewidth")


def test_check_of_a_calibration_line() -> None:
    inputs, data = LINEWIDTH["inputs"], LINEWIDTH["data"]
    line = CalibrationLine(inputs["intercept"], inputs["slope"], inputs["s"], inputs["nu"])
    found = check_line(line, data["x"], data["y"], probability=inputs["probability"], places=inputs["places"])
    zeta = 0.5 * (1 - math.exp(math.log(0.95) / 3))  # as the handbook's own commands say it
    assert found.t_star == pytest.approx(-stats.t.ppf(zeta, 38), rel=1e-10)
    assert found.limit == pytest.approx(-inputs["s"] * stats.t.ppf(zeta, 38) / inputs["slope"], rel=1e-10)
    days = [place // 3 + 1 for place in found.outside]
    assert set(days) == {int(printed("nist-linewidth", "days with values outside"))}
    assert len(days) == printed("nist-linewidth", "values outside on day 4")


def test_generations_of_the_linewidth_line_must_not_be_mixed() -> None:
    # The handbook's example exists in generations that don't agree; a control value holds for its own line only.
    data = LINEWIDTH["data"]
    one, other = CalibrationLine(0.2817, 0.9767, 0.06826, 38), CalibrationLine(0.2357, 0.9870, 0.06203, 38)
    first, second = (check_line(line, data["x"], data["y"]) for line in (one, other))
    assert {place // 3 for place in first.outside} == {place // 3 for place in second.outside} == {3}
    # The print of either line is off by far more than its last digit for the other, control values and limits.
    assert np.abs(np.array(first.control_values) - second.control_values).max() > 0.03
    # Mixed lines condemn a day that either whole line finds good.
    for b0, b1, s in ((one.intercept, other.slope, other.s), (other.intercept, one.slope, one.s)):
        mixed = check_line(CalibrationLine(b0, b1, s, 38), data["x"], data["y"])
        assert {place // 3 for place in mixed.outside} > {3}


def test_the_joint_probability_of_a_line_check_by_simulation() -> None:
    rng = np.random.default_rng(40)
    # s known all but exactly: then three control values stay inside together with the named probability.
    line = CalibrationLine(0.0, 1.0, 1.0, 1e6)
    limit = check_line(line, [0.0], [0.0], probability=0.9, places=3).limit
    inside = (np.abs(rng.standard_normal((40_000, 3))) <= limit).all(axis=1)
    assert inside.mean() == pytest.approx(0.9, abs=0.006)


def test_baselines_that_are_none() -> None:
    with pytest.raises(SeriesUnusable):
        freeze([])
    with pytest.raises(BaselineTooShort):
        freeze([1.0])
    for method in SpreadMethod:
        with pytest.raises(BaselineWithoutSpread):
            freeze([25.00115] * 12, method=method)
    # The mean of three times 0.1 isn't 0.1 in binary, which leaves a spread of 1.7e-17.
    with pytest.raises(BaselineWithoutSpread):
        freeze([0.1] * 3)
    for bad in (math.nan, math.inf):
        with pytest.raises(SeriesUnusable):
            freeze([1.0, 2.0, bad])
    with pytest.raises(SeriesUnusable, match="overflow"):
        freeze([1e308, -1e308, 1e308])
    with pytest.raises(TooLittleFreedom):
        freeze([1.0, 2.0], method=SpreadMethod.MOVING_RANGE).student_limits(0.95)


def test_refusals_of_a_chart() -> None:
    baseline = freeze([1.0, 2.0, 3.0])
    for value, warning, action in ((math.nan, 2, 3), (1, 3, 2), (1, 0, 3), (1, 2, math.inf)):
        with pytest.raises(SeriesUnusable):
            baseline.judge(value, warning=warning, action=action)
    for weight in (0.0, -0.1, 1.1, math.nan):
        with pytest.raises(SeriesUnusable):
            averages([1.0], baseline, weight=weight)
    with pytest.raises(SeriesUnusable):
        signals([0.1, math.nan], RuleSet.ISO_8258)
    line = CalibrationLine(0.0, 1.0, 0.1, 10)
    for known, observed in (([1.0], [1.0, 2.0]), ([], []), ([math.nan], [1.0])):
        with pytest.raises(SeriesUnusable):
            check_line(line, known, observed)
    with pytest.raises(SeriesUnusable):
        check_line(CalibrationLine(0.0, 0.0, 0.1, 10), [1.0], [1.0])
    with pytest.raises(ProbabilityOutOfRange):
        check_line(line, [1.0], [1.0], probability=95)


def test_refusals_of_spreads_and_means() -> None:
    with pytest.raises(SeriesUnusable):
        pool([])
    for one in (Spread(-1, 5), Spread(math.nan, 5), Spread(1, 0), Spread(1, math.inf), Spread(math.inf, 5)):
        with pytest.raises(SpreadUnusable):
            pool([one])
        with pytest.raises(SpreadUnusable):
            compare_spreads(Spread(1, 5), one)
    assert pool([Spread(0, 3), Spread(1, 3)]).s == pytest.approx(math.sqrt(0.5))
    with pytest.raises(SpreadUnusable):
        compare_spreads(Spread(0, 5), Spread(1, 5))
    with pytest.raises(ProbabilityOutOfRange):
        spread_limit(Spread(1, 5), nu_new=3, probability=1)
    with pytest.raises(MeansWithoutSpread):
        compare_means(Group(1, 0, 3), Group(2, 0, 3))
    with pytest.raises(MeansWithoutSpread):
        compare_means(Group(1, 0, 3), Group(2, 0, 3), has_equal_spread=False)
    with pytest.raises(SpreadUnusable):
        compare_means(Group(1, 0, 1), Group(2, 1, 3), has_equal_spread=False)
    with pytest.raises(SeriesUnusable):
        compare_means(Group(1, 0, 1), Group(2, 0, 1))
    with pytest.raises(SeriesUnusable):
        compare_means(Group(math.nan, 1, 3), Group(2, 1, 3))
