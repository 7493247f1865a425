"""Averages and ranges, nested designs, levels in time, one-way groups."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats
from scipy.special import ndtr

from labsys.metrology.studies.anova import one_way
from labsys.metrology.studies.constants import Constants, NoConstant, d2_star, single_constant, trial_constant
from labsys.metrology.studies.crossed import crossed_study
from labsys.metrology.studies.levels import level_study, level_study_of_readings
from labsys.metrology.studies.nested import nested_study
from labsys.metrology.studies.ranges import range_study
from tests.labsys.metrology.published import case, printed
from tests.labsys.metrology.studies import close_to_print, ten_parts

SHEET = range_study(ten_parts())
ROWS = SHEET.breakdown.rows


@pytest.mark.parametrize(
    ("quantity", "found"),
    [
        *((f"Rbar {who}", SHEET.mean_ranges[place]) for place, who in enumerate("ABC")),
        *((f"Xbar {who}", SHEET.means[place]) for place, who in enumerate("ABC")),
        ("Rbarbar", SHEET.mean_range),
        ("Xdiff", SHEET.mean_difference),
        ("Rp", SHEET.part_range),
        ("EV", ROWS["repeatability"].sd),
        ("AV", ROWS["appraiser"].sd),
        ("GRR", ROWS["grr"].sd),
        ("PV", ROWS["part"].sd),
        ("TV", ROWS["total"].sd),
        ("%EV", ROWS["repeatability"].percent_study),
        ("%AV", ROWS["appraiser"].percent_study),
        ("%GRR", ROWS["grr"].percent_study),
        ("%PV", ROWS["part"].percent_study),
        ("ndc", SHEET.breakdown.ndc),
    ],
)
def test_the_manuals_sheet(quantity: str, found: float) -> None:
    assert close_to_print("msa-grr-range", quantity, found)


def test_trap_9_constants_as_printed_or_unrounded() -> None:
    assert tuple(float(case("msa-grr-range")["inputs"][name].split()[0]) for name in ("K1", "K2", "K3")) == (
        SHEET.K1,
        SHEET.K2,
        SHEET.K3,
    )
    computed = range_study(ten_parts(), constants=Constants.COMPUTED)
    assert computed.constants is Constants.COMPUTED and SHEET.constants is Constants.PRINTED
    assert pytest.approx(SHEET.K2, abs=5e-5) == computed.K2 and computed.K2 != SHEET.K2
    # 30 ranges, so that d2* and not d2 applies: half a percent in EV.
    assert 0.99 < computed.K1 / SHEET.K1 < 0.996


@pytest.mark.parametrize("count", range(2, 11))
def test_printed_constants_are_one_over_d2_star(count: int) -> None:
    assert single_constant(count, "parts", Constants.PRINTED) == pytest.approx(
        1 / d2_star(count, 1), abs=5.1e-5
    )


@pytest.mark.parametrize("trials", [2, 3])
def test_printed_trial_constants_are_one_over_d2(trials: int) -> None:
    assert trial_constant(trials, 30, Constants.PRINTED) == pytest.approx(
        1 / d2_star(trials, 10**9), abs=5.1e-5
    )


def _by_orders(size: int) -> tuple[float, float]:
    """Give E(R) and E(R²) of a range another way: over the chances that all readings lie above or below points."""
    mean = integrate.quad(lambda x: 1 - ndtr(x) ** size - ndtr(-x) ** size, -9, 9, epsabs=1e-12)[0]

    def apart(y: float, x: float) -> float:
        return float(1 - ndtr(y) ** size - ndtr(-x) ** size + (ndtr(y) - ndtr(x)) ** size)

    square = 2 * integrate.dblquad(apart, -9, 9, lambda x: x, 9, epsabs=1e-8)[0]
    return mean, square


@pytest.mark.parametrize("size", [2, 3, 7])
def test_d2_star_by_another_integral(size: int) -> None:
    mean, square = _by_orders(size)
    assert d2_star(size, 1) == pytest.approx(math.sqrt(square), rel=1e-7)
    assert d2_star(size, 4) == pytest.approx(math.sqrt(mean**2 + (square - mean**2) / 4), rel=1e-7)


def test_d2_star_of_two_is_the_root_of_two() -> None:
    # |x − y| squared is on average twice the variance; d2 of two is 2/√π.
    assert d2_star(2, 1) == pytest.approx(math.sqrt(2), rel=1e-9)
    assert d2_star(2, 10**12) == pytest.approx(2 / math.sqrt(math.pi), rel=1e-9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: trial_constant(3, 15, Constants.PRINTED),
        lambda: trial_constant(4, 30, Constants.PRINTED),
        lambda: single_constant(11, "parts", Constants.PRINTED),
        lambda: single_constant(26, "parts", Constants.COMPUTED),
        lambda: d2_star(1, 1),
        lambda: d2_star(3, 0),
    ],
)
def test_a_study_too_small_or_large_for_the_constants(call: Callable[[], float]) -> None:
    with pytest.raises(NoConstant, match="Choose computed constants"):
        call()


def test_ranges_on_average_give_the_variance() -> None:
    rng = np.random.default_rng(22)
    found = [
        range_study(rng.normal(0, 0.5, (4, 2, 3)).tolist(), constants=Constants.COMPUTED).breakdown.rows
        for _ in range(400)
    ]
    variances = np.array([rows["repeatability"].variance for rows in found])
    assert abs(variances.mean() - 0.25) < 4 * variances.std() / 20


def _nested(rng: np.random.Generator) -> Any:
    return rng.normal(0, 0.3, (4, 1, 1)) + rng.normal(0, 1.0, (4, 5, 1)) + rng.normal(0, 0.2, (4, 5, 3)) + 10


def test_nested_components_are_right_on_average() -> None:
    rng = np.random.default_rng(23)
    rows = [nested_study(_nested(rng).tolist()).breakdown.rows for _ in range(400)]
    for name, sd in (("appraiser", 0.3), ("part", 1.0), ("repeatability", 0.2)):
        estimates = np.array([row[name].estimate for row in rows])
        assert abs(estimates.mean() - sd**2) < 4 * estimates.std() / 20


def test_nested_lines_against_one_way_analyses() -> None:
    # All cells as groups give the last line; the cells' means grouped by appraiser give F of the appraisers.
    array = _nested(np.random.default_rng(24))
    found = nested_study(array.tolist())
    cells = [cell.tolist() for rows in array for cell in rows]
    assert found.table["repeatability"].ss == pytest.approx(one_way(cells).within.ss, rel=1e-10)
    F, p = stats.f_oneway(*array.mean(axis=2))
    assert (found.table["appraiser"].F, found.table["appraiser"].p) == pytest.approx((F, p), rel=1e-9)
    assert [line.df for line in found.table.values()] == [3, 16, 40]
    crossed = crossed_study(array.transpose(1, 0, 2).tolist()).table
    assert found.table["part"].ss == pytest.approx(crossed["part"].ss + crossed["interaction"].ss, rel=1e-10)
    interval = found.intervals["part"]
    assert interval.low < found.breakdown.rows["part"].sd < interval.high


def _handbook(column: int) -> list[list[list[float]]]:
    rows = case("nist-nested")["data"]["run_wafer_mean_s"]
    return [
        [[row[column] for row in rows if row[:2] == [run, wafer]] for run in (1, 2)]
        for wafer in range(138, 143)
    ]


def test_the_handbooks_gauge_over_days_and_runs() -> None:
    found = level_study(_handbook(2), _handbook(3), repeats=6)
    assert close_to_print("nist-nested", "s2 day (50 df)", found.day.s)
    assert close_to_print("nist-nested", "s3 run (5 df)", found.run.s)
    assert (found.repeatability.df, found.day.df, found.run.df) == (300, 50, 5)
    # Trap 10: the printed s1 doesn't follow from the deviations that are listed beside it.
    assert found.repeatability.s == pytest.approx(0.072867, abs=5e-7)
    assert abs(found.repeatability.s - printed("nist-nested", "s1 (300 df)")) > 0.0018


def test_pooling_the_handbooks_wafers() -> None:
    # 2.4.4 prints the sums of five wafers as 3.17635 over 300 degrees of freedom.
    squares = printed("nist-nested", "2.4.4 example: sum of the five wafer SS")
    assert math.sqrt(squares / 300) == pytest.approx(0.1028972, abs=5e-8)


def test_readings_and_their_summaries_say_the_same() -> None:
    array = np.random.default_rng(25).normal(5, 0.1, (2, 3, 4, 5))
    whole = level_study_of_readings(array.tolist())
    parts = level_study(array.mean(axis=3).tolist(), array.std(axis=3, ddof=1).tolist(), repeats=5)
    assert whole == parts
    assert [whole.repeatability.df, whole.day.df, whole.run.df] == [96, 18, 4]


def test_levels_on_average_give_what_was_put_in() -> None:
    rng = np.random.default_rng(26)
    run, day, repeat = 0.3, 0.2, 0.4
    found = []
    for _ in range(400):
        array = (
            rng.normal(0, run, (2, 4, 1, 1))
            + rng.normal(0, day, (2, 4, 3, 1))
            + rng.normal(0, repeat, (2, 4, 3, 2))
        )
        found.append(level_study_of_readings(array.tolist()))
    for values, truth in (
        ([one.run.estimate for one in found], run**2),
        ([one.day.estimate for one in found], day**2),
        ([one.single_sd**2 for one in found], run**2 + day**2 + repeat**2),
    ):
        assert abs(np.mean(values) - truth) < 4 * np.std(values) / 20


def test_a_level_that_adds_nothing_is_said() -> None:
    means = [[[1.0, 1.001], [1.001, 1.0]]]
    found = level_study(means, [[[0.1, 0.1], [0.1, 0.1]]], repeats=3)
    assert found.day.added == 0 and found.day.estimate < 0
    assert [note for note in found.notes if "days" in note]


def test_nist_certified_one_way() -> None:
    found = one_way(case("nist-sirstv")["data"]["instrument_rows"])
    for quantity, value in (
        ("SS between", found.between.ss),
        ("SS within", found.within.ss),
        ("MS between", found.between.ms),
        ("MS within", found.within.ms),
        ("F", found.between.F),
        ("R^2", found.r_squared),
        ("residual sd", found.residual_sd),
    ):
        assert value == pytest.approx(printed("nist-sirstv", quantity), rel=1e-12), quantity


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.lists(st.integers(1, 6), min_size=2, max_size=5),
    st.sampled_from([0.0, 1e6]),
)
def test_one_way_against_scipy(seed: int, sizes: list[int], centre: float) -> None:
    rng = np.random.default_rng(seed)
    groups = [rng.normal(centre, 1.0, size).tolist() for size in [*sizes, 2]]
    found = one_way(groups)
    F, p = stats.f_oneway(*groups)
    assert (found.between.F, found.between.p) == pytest.approx((F, p), rel=1e-6)
    assert found.total.ss == pytest.approx(np.var(np.concatenate(groups)) * sum((*sizes, 2)), rel=1e-6)


def test_groups_of_unequal_size_give_the_component_on_average() -> None:
    rng = np.random.default_rng(27)
    estimates = [
        one_way(
            [(rng.normal(0, 0.5) + rng.normal(0, 1, size)).tolist() for size in (2, 5, 9, 4)]
        ).between_estimate
        for _ in range(1000)
    ]
    assert abs(np.mean(estimates) - 0.25) < 4 * np.std(estimates) / math.sqrt(1000)
