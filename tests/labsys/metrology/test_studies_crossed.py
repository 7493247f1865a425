"""Crossed repeatability and reproducibility: the printed studies, least squares and simulation beside them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from labsys.metrology.studies.anova import Line
from labsys.metrology.studies.crossed import (
    CrossedRules,
    CrossedStudy,
    Denominator,
    Pooling,
    crossed_study,
)
from labsys.metrology.studies.intervals import Term, interval_of_difference, interval_of_sum
from labsys.metrology.studies.variation import NdcRule, Scale
from tests.labsys.metrology.published import entry, printed, recomputed
from tests.labsys.metrology.studies import close_to_print, drawn, open_data, ten_parts

TEN_PARTS = crossed_study(ten_parts())
OPEN_DATA = crossed_study(open_data(), scale=Scale(tolerance=10))
SD = {"part": 1.0, "appraiser": 0.3, "interaction": 0.2, "repeatability": 0.25}


@pytest.mark.parametrize("printed_name", ["part", "appraiser", "interaction", "equipment", "total"])
def test_sums_and_mean_squares_of_the_manual(printed_name: str) -> None:
    line = TEN_PARTS.table["repeatability" if printed_name == "equipment" else printed_name]
    assert close_to_print("msa-grr-anova", f"SS {printed_name}", line.ss)
    if printed_name != "total":
        assert close_to_print("msa-grr-anova", f"MS {printed_name}", line.ms)


@pytest.mark.parametrize(
    ("quantity", "found"),
    [
        ("F interaction", TEN_PARTS.table["interaction"].F),
        ("p interaction", TEN_PARTS.table["interaction"].p),
        ("F part, interaction in denominator", TEN_PARTS.table["part"].F),
        ("F appraiser, interaction in denominator", TEN_PARTS.table["appraiser"].F),
        ("SS pooled (78 df)", (TEN_PARTS.reduced or {})["repeatability"].ss),
        ("EV", TEN_PARTS.breakdown.rows["repeatability"].sd),
        ("AV", TEN_PARTS.breakdown.rows["appraiser"].sd),
        ("GRR", TEN_PARTS.breakdown.rows["grr"].sd),
        ("PV", TEN_PARTS.breakdown.rows["part"].sd),
        ("TV", TEN_PARTS.breakdown.rows["total"].sd),
        ("% contribution EV", TEN_PARTS.breakdown.rows["repeatability"].percent_contribution),
        ("% contribution AV", TEN_PARTS.breakdown.rows["appraiser"].percent_contribution),
        ("% contribution GRR", TEN_PARTS.breakdown.rows["grr"].percent_contribution),
        ("% contribution PV", TEN_PARTS.breakdown.rows["part"].percent_contribution),
        ("% total variation GRR", TEN_PARTS.breakdown.rows["grr"].percent_study),
        ("ndc = 1.41 PV/GRR", TEN_PARTS.breakdown.ndc_unrounded),
    ],
)
def test_the_manuals_study(quantity: str, found: float) -> None:
    assert close_to_print("msa-grr-anova", quantity, found)
    assert (TEN_PARTS.reduced or {})["repeatability"].df == 78


OPEN_ROWS = OPEN_DATA.breakdown.rows


@pytest.mark.parametrize(
    ("quantity", "found"),
    [
        ("SS part", OPEN_DATA.table["part"].ss),
        ("SS operator", OPEN_DATA.table["appraiser"].ss),
        ("SS interaction", OPEN_DATA.table["interaction"].ss),
        ("SS repeatability", OPEN_DATA.table["repeatability"].ss),
        ("SS total", OPEN_DATA.table["total"].ss),
        ("F part (interaction denominator)", OPEN_DATA.table["part"].F),
        ("F operator (interaction denominator)", OPEN_DATA.table["appraiser"].F),
        ("F interaction", OPEN_DATA.table["interaction"].F),
        ("p interaction", OPEN_DATA.table["interaction"].p),
        ("var repeatability", OPEN_ROWS["repeatability"].variance),
        ("var reproducibility", OPEN_ROWS["reproducibility"].variance),
        ("var GRR", OPEN_ROWS["grr"].variance),
        ("var part", OPEN_ROWS["part"].variance),
        ("var total", OPEN_ROWS["total"].variance),
        ("%study variation GRR", OPEN_ROWS["grr"].percent_study),
        ("%tolerance GRR (6 s.d./10)", OPEN_ROWS["grr"].percent_tolerance),
    ],
)
def test_the_open_data(quantity: str, found: float) -> None:
    assert close_to_print("grr-open-data", quantity, found)


# Trap 9: every choice that changes a figure has a name, and the result carries it.


def test_trap_9_interaction_pooled_or_kept() -> None:
    kept = crossed_study(ten_parts(), rules=CrossedRules(pooling=Pooling.NEVER))
    assert close_to_print(
        "msa-grr-anova", "EV if interaction is kept", kept.breakdown.rows["repeatability"].sd
    )
    # The other figures of the kept model stand in the notes of the case, worked out independently.
    rows = kept.breakdown.rows
    found = [rows[name].sd for name in ("appraiser", "grr", "part", "total")]
    assert found == pytest.approx([0.228304, 0.313217, 1.043395, 1.089393], abs=6e-7)
    assert not kept.is_pooled and kept.reduced is None and kept.rules.pooling is Pooling.NEVER
    assert TEN_PARTS.is_pooled and TEN_PARTS.rules.pooling is Pooling.BY_SIGNIFICANCE


def test_trap_9_the_significance_for_pooling() -> None:
    # p of the open data's interaction is 0.268: pooled at 0.25, kept at 0.3.
    for significance, is_pooled in ((0.05, True), (0.25, True), (0.3, False)):
        found = crossed_study(open_data(), rules=CrossedRules(significance=significance))
        assert (found.is_pooled, found.rules.significance) == (is_pooled, significance)
    assert crossed_study(open_data(), rules=CrossedRules(significance=0.3, pooling=Pooling.ALWAYS)).is_pooled


def test_trap_9_what_stands_below_in_F() -> None:
    found = crossed_study(ten_parts(), rules=CrossedRules(denominator=Denominator.REPEATABILITY))
    for source in ("part", "appraiser"):
        line = found.table[source]
        assert line.tested_against == "repeatability"
        assert (
            pytest.approx(recomputed("msa-grr-anova", f"F {source}, equipment in denominator"), rel=1e-12)
            == line.F
        )
        assert TEN_PARTS.table[source].tested_against == "interaction"
    assert found.breakdown == TEN_PARTS.breakdown


def test_trap_9_distinct_categories_truncated_or_rounded() -> None:
    rounded = crossed_study(ten_parts(), scale=Scale(ndc_rule=NdcRule.NEAREST)).breakdown
    assert (TEN_PARTS.breakdown.ndc, rounded.ndc) == (4, 5)
    assert rounded.scale.ndc_rule is NdcRule.NEAREST
    assert rounded.ndc_unrounded == TEN_PARTS.breakdown.ndc_unrounded
    assert printed("msa-grr-anova", "ndc = 1.41 PV/GRR") == pytest.approx(rounded.ndc_unrounded, abs=5e-4)


def test_a_negative_component_is_set_to_zero_and_said() -> None:
    kept = crossed_study(ten_parts(), rules=CrossedRules(pooling=Pooling.NEVER)).breakdown
    row = kept.rows["interaction"]
    assert row.is_set_to_zero and row.variance == 0
    # (MS interaction − MS equipment)/trials from the printed mean squares.
    assert row.estimate == pytest.approx((0.01994 - 0.04598) / 3, abs=1e-5)
    assert [note for note in kept.notes if "interaction" in note and "set to zero" in note]
    assert not TEN_PARTS.breakdown.notes


def _least_squares(array: Any, factors: Sequence[Sequence[int]]) -> float:
    """Give the residual sum of squares of a model with dummies for each group of axes in ``factors``."""
    indices = np.indices(array.shape).reshape(3, -1)
    columns = [np.ones(array.size)]
    for axes in factors:
        keys = [tuple(int(indices[axis, place]) for axis in axes) for place in range(array.size)]
        columns += [np.array([float(key == level) for key in keys]) for level in sorted(set(keys))]
    design = np.stack(columns, axis=1)
    fitted = design @ np.linalg.lstsq(design, array.ravel(), rcond=None)[0]
    return float(((array.ravel() - fitted) ** 2).sum())


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 5), st.integers(2, 4), st.integers(2, 3))
def test_sums_of_squares_against_least_squares(seed: int, parts: int, appraisers: int, trials: int) -> None:
    array = drawn(np.random.default_rng(seed), (parts, appraisers, trials), SD) + 1000
    found = {name: line.ss for name, line in crossed_study(array.tolist()).table.items()}
    nothing, by_part, by_appraiser = (_least_squares(array, factors) for factors in ([], [[0]], [[1]]))
    additive, cells = (_least_squares(array, factors) for factors in ([[0], [1]], [[0, 1]]))
    expected = {
        "part": nothing - by_part,
        "appraiser": nothing - by_appraiser,
        "interaction": additive - cells,
        "repeatability": cells,
        "total": nothing,
    }
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-7)


def test_components_are_right_on_average() -> None:
    rng = np.random.default_rng(20)
    rules = CrossedRules(pooling=Pooling.NEVER)
    rows = [crossed_study(drawn(rng, (6, 4, 2), SD).tolist(), rules=rules).breakdown.rows for _ in range(300)]
    for name, sd in SD.items():
        estimates = np.array([row[name].estimate for row in rows])
        assert abs(estimates.mean() - sd**2) < 4 * estimates.std() / np.sqrt(len(rows))


@pytest.mark.parametrize(("pooling", "interaction"), [(Pooling.NEVER, 0.2), (Pooling.ALWAYS, 0.0)])
def test_intervals_hold_the_truth_as_often_as_they_say(pooling: Pooling, interaction: float) -> None:
    rng = np.random.default_rng(21)
    sd = {**SD, "interaction": interaction}
    truth = {
        "repeatability": sd["repeatability"],
        "part": sd["part"],
        "grr": float(np.hypot(np.hypot(sd["appraiser"], interaction), sd["repeatability"])),
    }
    rules = CrossedRules(pooling=pooling, confidence=0.9)
    studies = [crossed_study(drawn(rng, (8, 5, 2), sd).tolist(), rules=rules) for _ in range(400)]
    for name, value in truth.items():
        found = [study.intervals[name] for study in studies]
        share = np.mean([one.low <= value <= one.high for one in found])
        # Four standard deviations of a share of 400 about 0.9.
        assert abs(share - 0.9) < 0.06, name


def test_the_interval_of_one_mean_square_is_exact() -> None:
    found = interval_of_sum([Term(1.0, Line("repeatability", 78 * 0.04, 78))], 0.95)
    low, high = (np.sqrt(78 * 0.04 / stats.chi2.ppf(p, 78)) for p in (0.975, 0.025))
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-12)
    assert "exact" in found.source


def test_a_difference_that_may_be_nothing_reaches_down_to_zero() -> None:
    found = interval_of_difference(Term(1.0, Line("a", 9.0, 9)), Term(1.0, Line("b", 20.0, 20)), 0.95)
    assert found.low == 0 < found.high


@pytest.mark.parametrize(("freedom", "confidence"), [((9, 18), 0.95), ((4, 60), 0.9), ((30, 5), 0.8)])
def test_the_interval_of_a_difference_ends_at_zero_where_the_F_test_does(
    freedom: tuple[int, int], confidence: float
) -> None:
    # What the cross terms of the method are made for: the interval and the F test always agree.
    tail = (1 - confidence) / 2
    less = Term(1.0, Line("b", 2.0 * freedom[1], freedom[1]))
    for quantile, end in ((1 - tail, "low"), (tail, "high")):
        F = float(stats.f.ppf(quantile, *freedom))
        for factor, is_positive in ((0.999, False), (1.001, True)):
            more = Term(1.0, Line("a", 2.0 * F * factor * freedom[0], freedom[0]))
            found = interval_of_difference(more, less, confidence)
            assert (getattr(found, end) > 0) is is_positive, (end, factor)


@pytest.mark.parametrize("pooling", [Pooling.NEVER, Pooling.ALWAYS])
def test_the_interval_of_the_whole_measuring_system_by_hand(pooling: Pooling) -> None:
    array = drawn(np.random.default_rng(28), (10, 3, 3), {**SD, "interaction": 0.4})
    found = crossed_study(array.tolist(), rules=CrossedRules(pooling=pooling))
    assert not found.breakdown.notes
    lines = found.reduced or found.table
    weights = {"appraiser": 1 / 30, "interaction": 9 / 30, "repeatability": 2 / 3}
    if pooling is Pooling.ALWAYS:
        weights = {"appraiser": 1 / 30, "repeatability": 29 / 30}
    parts = [(weight * lines[name].ms, lines[name].df) for name, weight in weights.items()]
    grr = found.breakdown.rows["grr"].variance
    assert sum(value for value, _ in parts) == pytest.approx(grr, rel=1e-12)
    below = sum((value * (1 - df / stats.chi2.ppf(0.975, df))) ** 2 for value, df in parts)
    above = sum((value * (df / stats.chi2.ppf(0.025, df) - 1)) ** 2 for value, df in parts)
    interval = found.intervals["grr"]
    assert (interval.low**2, interval.high**2) == pytest.approx(
        (grr - below**0.5, grr + above**0.5), rel=1e-9
    )


def test_appraisers_and_parts_have_their_means() -> None:
    # X̄ of the three appraisers as printed on the manual's sheet.
    expected = [printed("msa-grr-range", f"Xbar {who}") for who in "ABC"]
    assert TEN_PARTS.appraiser_means == pytest.approx(expected, abs=5e-5)
    assert max(TEN_PARTS.part_means) - min(TEN_PARTS.part_means) == pytest.approx(
        float(entry("msa-grr-range", "Rp")["printed"]), abs=5e-4
    )


def test_nothing_depends_on_where_zero_lies() -> None:
    moved = crossed_study((np.array(ten_parts()) + 25_000).tolist())
    assert isinstance(moved, CrossedStudy)
    for name, row in moved.breakdown.rows.items():
        assert row.sd == pytest.approx(TEN_PARTS.breakdown.rows[name].sd, rel=1e-8)
