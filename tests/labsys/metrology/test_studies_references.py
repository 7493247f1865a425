"""Bias, linearity, type-1, what the figures mean, and what no study takes."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from labsys.errors import LabError
from labsys.metrology.exact import NotANumber
from labsys.metrology.studies.anova import Line, one_way
from labsys.metrology.studies.bias import bias_study
from labsys.metrology.studies.crossed import CrossedRules, crossed_study
from labsys.metrology.studies.cube import (
    NoSpreadSeen,
    ReadingOutOfReach,
    StudyTooSmall,
    UnbalancedStudy,
    in_order,
)
from labsys.metrology.studies.levels import level_study
from labsys.metrology.studies.linearity import linearity_study
from labsys.metrology.studies.meaning import (
    Grade,
    meaning_of_breakdown,
    meaning_of_linearity,
    meaning_of_type1,
)
from labsys.metrology.studies.nested import nested_study
from labsys.metrology.studies.ranges import range_study
from labsys.metrology.studies.type1 import type1_study
from labsys.metrology.studies.variation import BadStudySetting, Scale, break_down
from tests.labsys.metrology.published import case, entry, printed
from tests.labsys.metrology.studies import close_to_print, ten_parts

BY_REFERENCE = {
    float(at): rows for at, rows in case("msa-linearity")["data"]["reference_to_readings"].items()
}
FIFTY = case("msa-type1")["data"]["readings"]
LINE = linearity_study(BY_REFERENCE, process_variation=1)
CAPABILITY = type1_study(bias_study(FIFTY, -4), tolerance=15)


@pytest.mark.parametrize(
    ("quantity", "found"),
    [
        ("intercept", LINE.intercept.value),
        ("slope", LINE.slope.value),
        ("se intercept", LINE.intercept.standard_error),
        ("se slope", LINE.slope.standard_error),
        ("t intercept", LINE.intercept.t),
        ("t slope", LINE.slope.t),
        ("s", LINE.s),
        ("R^2", LINE.r_squared),
        *((f"bias at {at.reference:g}", at.bias.value) for at in LINE.at),
        ("p (bias=0) at 2", LINE.at[0].bias.p),
        ("p (bias=0) at 10", LINE.at[4].bias.p),
    ],
)
def test_the_manuals_linearity_study(quantity: str, found: float) -> None:
    one = entry("msa-linearity", quantity)
    assert found == pytest.approx(float(one["printed"]), abs=one["tol"])


def test_linearity_is_the_slope_over_the_process() -> None:
    assert LINE.linearity == pytest.approx(0.131667, abs=5e-7)
    assert LINE.percent_linearity == pytest.approx(13.1667, abs=5e-5)
    assert not LINE.zero_line_holds
    assert linearity_study(BY_REFERENCE).linearity is None


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 6))
def test_linearity_against_scipy(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    readings = {float(at): (at * 1.01 + rng.normal(0, 0.1, 4)).tolist() for at in range(10, 10 + count)}
    found = linearity_study(readings)
    x = np.repeat(list(readings), 4)
    y = np.concatenate(list(readings.values())) - x
    line = stats.linregress(x, y)
    assert (found.slope.value, found.slope.p) == pytest.approx((line.slope, line.pvalue), rel=1e-7)
    errors = (line.intercept_stderr, line.stderr)
    assert (found.intercept.standard_error, found.slope.standard_error) == pytest.approx(errors, rel=1e-7)
    assert found.mean_bias == pytest.approx(y.mean(), rel=1e-9)


@pytest.mark.parametrize(
    ("quantity", "found"),
    [
        ("mean", CAPABILITY.basis.mean),
        ("s", CAPABILITY.basis.s),
        ("6 s", CAPABILITY.study_variation),
        ("bias", CAPABILITY.basis.bias.value),
        ("Cg", CAPABILITY.Cg),
        ("Cgk", CAPABILITY.Cgk),
        ("%Var repeatability", CAPABILITY.percent_repeatability),
        ("%Var repeatability and bias", CAPABILITY.percent_with_bias),
        ("t", CAPABILITY.basis.bias.t),
        ("p", CAPABILITY.basis.bias.p),
        ("CI low", CAPABILITY.basis.bias.low),
        ("CI high", CAPABILITY.basis.bias.high),
    ],
)
def test_the_type_1_study(quantity: str, found: float) -> None:
    assert close_to_print("msa-type1", quantity, found)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 40), st.sampled_from([0.5, 0.9, 0.95]))
def test_bias_against_scipy(seed: int, count: int, confidence: float) -> None:
    readings = np.random.default_rng(seed).normal(25.001, 0.002, count)
    found = bias_study(readings.tolist(), 25.0, confidence=confidence)
    other = stats.ttest_1samp(readings, 25.0)
    assert (found.bias.t, found.bias.p) == pytest.approx((other.statistic, other.pvalue), rel=1e-6)
    interval = other.confidence_interval(confidence)
    # Scipy gives the interval of the mean.
    assert (found.bias.low + 25, found.bias.high + 25) == pytest.approx(tuple(interval), rel=1e-9)
    assert found.bias.is_seen == (found.bias.p < 1 - confidence)


def test_a_bias_that_uses_up_the_share() -> None:
    found = type1_study(bias_study([10.9, 11.1, 11.0], 10), tolerance=5, step=0.1)
    assert found.Cgk < 0 and found.percent_with_bias is None
    assert found.percent_step == pytest.approx(2)
    texts = {one.text: one.grade for one in meaning_of_type1(found)}
    assert texts["The step is 2.0 % of the tolerance; at most 5 % is wanted."] is Grade.GOOD
    assert [grade for text, grade in texts.items() if text.startswith("Cgk")] == [Grade.BAD]


@pytest.mark.parametrize(
    ("percent", "grade"),
    [(9.99, Grade.GOOD), (10.01, Grade.DOUBTFUL), (29.99, Grade.DOUBTFUL), (30.01, Grade.BAD)],
)
def test_thresholds_of_the_measuring_systems_share(percent: float, grade: Grade) -> None:
    share = (percent / 100) ** 2
    estimates = {"repeatability": share, "appraiser": 0.0, "part": 1 - share}
    scale = Scale(tolerance=6.0)
    meaning = meaning_of_breakdown(break_down(estimates, ("appraiser",), scale))
    # With a total of one and a tolerance of six, both shares are the same.
    assert [one.grade for one in meaning[:2]] == [grade, grade]
    assert meaning[2].text.startswith(f"A part within {2 * percent / 100:.4g} of a limit")
    assert meaning[3].grade is (Grade.GOOD if 1.41 * math.sqrt((1 - share) / share) >= 5 else Grade.BAD)
    assert all(one.source for one in meaning)


def test_what_a_linearity_study_means() -> None:
    assert [one.grade for one in meaning_of_linearity(LINE)] == [Grade.BAD, Grade.BAD]
    flat = linearity_study({10.0: [10.1, 9.9], 20.0: [20.1, 19.9], 30.0: [30.1, 29.9]})
    assert [one.grade for one in meaning_of_linearity(flat)] == [Grade.GOOD, Grade.GOOD]


def test_readings_in_another_order() -> None:
    rows = case("msa-grr-anova")["data"]["trial_rows_by_appraiser"]
    given_order = [rows[who] for who in "ABC"]
    wanted = ("part", "appraiser", "trial")
    assert in_order(given_order, given=("appraiser", "trial", "part"), wanted=wanted) == ten_parts()


def test_an_unbalanced_study_names_the_place() -> None:
    readings = ten_parts()
    del readings[3][1][2]
    with pytest.raises(UnbalancedStudy, match="Expected 3 trials at part 4, appraiser 2.*found 2"):
        crossed_study(readings)
    del readings[3][1]
    with pytest.raises(UnbalancedStudy, match="Expected 3 appraisers at part 4"):
        crossed_study(readings)


ALIKE = [[[1.0, 1.0], [2.0, 2.0]], [[3.0, 3.0], [4.0, 4.0]]]


@pytest.mark.parametrize("study", [crossed_study, nested_study, range_study])
def test_trials_that_are_all_alike(study: Callable[[Any], Any]) -> None:
    with pytest.raises(NoSpreadSeen, match="between trials of one part"):
        study(ALIKE)


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: crossed_study([]), StudyTooSmall),
        (lambda: crossed_study([[]]), StudyTooSmall),
        (lambda: crossed_study([[[1.0, 2.0], [2.0, 3.0]]]), StudyTooSmall),
        (lambda: crossed_study([[[1.0, 2.0]], [[2.0, 3.0]]]), StudyTooSmall),
        (lambda: crossed_study([[[1.0], [2.0]], [[2.0], [3.0]]]), StudyTooSmall),
        (lambda: crossed_study([[[1.0, math.nan], [2.0, 1.0]], [[2.0, 1.0], [3.0, 1.0]]]), NotANumber),
        (lambda: crossed_study([[[1.0, 1e200], [2.0, 1.0]], [[2.0, 1.0], [3.0, 1.0]]]), ReadingOutOfReach),
        (lambda: CrossedRules(significance=0.0), BadStudySetting),
        (lambda: crossed_study(ten_parts(), rules=CrossedRules(confidence=1.0)), BadStudySetting),
        (lambda: Scale(tolerance=0.0), BadStudySetting),
        (lambda: Scale(width=math.inf), BadStudySetting),
        (lambda: nested_study([[[1.0, 2.0], [2.0, 3.0]]]), StudyTooSmall),
        (lambda: one_way([[1.0, 2.0]]), StudyTooSmall),
        (lambda: one_way([[1.0], [2.0]]), StudyTooSmall),
        (lambda: one_way([[1.0, 2.0], []]), StudyTooSmall),
        (lambda: one_way([[1.0, 1.0], [2.0, 2.0]]), NoSpreadSeen),
        (lambda: bias_study([1.0], 1.0), StudyTooSmall),
        (lambda: bias_study([1.0, 1.0], 1.0), NoSpreadSeen),
        (lambda: bias_study([1.0, 2.0], math.inf), NotANumber),
        (lambda: bias_study([1.0, 2.0], 1.0, confidence=0.0), BadStudySetting),
        (lambda: linearity_study({1.0: [1.0, 1.1]}), StudyTooSmall),
        (lambda: linearity_study(BY_REFERENCE, process_variation=0.0), BadStudySetting),
        (lambda: type1_study(bias_study(FIFTY, -4), tolerance=-1.0), BadStudySetting),
        (lambda: type1_study(bias_study(FIFTY, -4), tolerance=15, share=0.0), BadStudySetting),
        (lambda: type1_study(bias_study(FIFTY, -4), tolerance=15, step=0.0), BadStudySetting),
        (lambda: level_study([[[1.0, 2.0]]], [[[0.1, 0.1]]], repeats=2), StudyTooSmall),
        (lambda: level_study([[[1.0], [2.0]]], [[[0.1], [0.1]]], repeats=2), StudyTooSmall),
        (lambda: level_study([[[1.0, 2.0]] * 2], [[[0.1, 0.1]] * 2], repeats=1), StudyTooSmall),
        (lambda: level_study([[[1.0, 2.0]] * 2], [[[0.1, -0.1]] * 2], repeats=2), BadStudySetting),
        (lambda: level_study([[[1.0, 2.0]] * 2], [[[0.1, 0.1]] * 3], repeats=2), BadStudySetting),
        (lambda: level_study([[[1.0, 2.0]] * 2], [[[0.0, 0.0]] * 2], repeats=2), NoSpreadSeen),
    ],
)
def test_what_no_study_takes(call: Callable[[], Any], error: type[LabError]) -> None:
    with pytest.raises(error) as refused:
        call()
    assert isinstance(refused.value, ValueError)
    assert str(pickle.loads(pickle.dumps(refused.value))) == str(refused.value)


def test_a_line_over_nothing() -> None:
    nothing = Line("interaction", 0.0, 4)
    assert math.inf == Line("part", 2.0, 2).against(nothing).F
    tested = nothing.against(nothing)
    assert (tested.F, tested.p, tested.tested_against) == (None, None, "interaction")


def test_no_tolerance_no_share_of_it() -> None:
    assert crossed_study(ten_parts()).breakdown.rows["grr"].percent_tolerance is None
    assert printed("grr-open-data", "%tolerance GRR (6 s.d./10)") == 23.84
