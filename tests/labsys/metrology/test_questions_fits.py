"""Fits, drifts, periodic errors, charts and comparisons asked as files: what the known answers don't reach."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from labsys.metrology.questions.asking import QuestionRefused, answer_file
from labsys.metrology.questions.fields import QuestionUnreadable


def asked(kind: str, **fields: Any) -> dict[str, Any]:
    """Ask one question and give its values."""
    answered: Any = answer_file({"questions": [{"kind": kind, **fields}]})
    return dict(answered["answers"][0]["values"])


RNG = np.random.default_rng(3)
X = np.linspace(0, 10, 12)
Y = 1 + 0.5 * X + RNG.normal(0, 0.05, 12)


def test_a_fit_and_its_intervals_are_those_of_a_statistics_library() -> None:
    found = asked("fit", x=X.tolist(), y=Y.tolist(), at=[4.0])
    line = stats.linregress(X, Y)
    assert found["coefficients"] == pytest.approx([line.intercept, line.slope])
    assert found["u"] == pytest.approx([line.intercept_stderr, line.stderr])
    at, t, n = found["at"][0], stats.t.ppf(0.975, 10), len(X)
    lever = 1 / n + (4 - X.mean()) ** 2 / ((X - X.mean()) ** 2).sum()
    assert at["confidence"] == pytest.approx(t * found["s"] * lever**0.5)
    assert at["prediction"] == pytest.approx(t * found["s"] * (1 + lever) ** 0.5)


def test_a_value_read_back_goes_forth_to_itself() -> None:
    found = asked("fit", x=X.tolist(), y=Y.tolist(), read=[3.2], readings=4)["read"][0]
    forth = asked("fit", x=X.tolist(), y=Y.tolist(), at=[found["x"]])["at"][0]
    assert forth["value"] == pytest.approx(3.2)
    assert found["exact"][0] < found["x"] < found["exact"][1]
    assert found["U"] == pytest.approx((found["exact"][1] - found["exact"][0]) / 2, rel=0.01)


def test_a_fit_says_when_its_prediction_reaches_a_limit_before_the_line_does() -> None:
    found = asked("fit", x=X.tolist(), y=Y.tolist(), upper=8.0)["crossing"]
    assert found["last_seen"] < found["prediction_time"] < found["mean_time"]


def test_a_weighted_fit_follows_the_sure_points() -> None:
    found = asked("fit", x=[0, 1, 2, 3], y=[0, 1, 2, 9], u=[0.01, 0.01, 0.01, 10], scatter="stated")
    assert found["coefficients"] == pytest.approx([0, 1], abs=1e-3)


def test_the_uncertainty_of_a_further_value_is_that_of_one_reading() -> None:
    # Without weights it stands in the unit of y, in place of s: hypotenuse with that of the curve.
    found = asked("fit", x=X.tolist(), y=Y.tolist(), at=[4.0], read=[3.0], u_new=0.5, readings=4)
    at, read, slope = found["at"][0], found["read"][0], found["coefficients"][1]
    assert at["prediction"] == pytest.approx(at["k"] * np.hypot(0.5 / 2, at["u"]))
    near = asked("fit", x=X.tolist(), y=Y.tolist(), at=[read["x"]])["at"][0]
    assert read["u"] == pytest.approx(np.hypot(0.5 / 2, near["u"]) / slope)
    # With weights and residual scatter only ratios count: ten times all of them changes nothing.
    one, ten = (
        asked("fit", x=X.tolist(), y=Y.tolist(), u=[f] * 6 + [2 * f] * 6, u_new=f, at=[4.0], read=[3.0])
        for f in (0.05, 0.5)
    )
    assert one["at"][0]["prediction"] == pytest.approx(ten["at"][0]["prediction"])
    assert one["read"][0]["U"] == pytest.approx(ten["read"][0]["U"])


def test_a_weighted_drift_predicts_with_the_uncertainty_of_a_further_change() -> None:
    fields = {
        "elapsed": [6, 12, 18],
        "changes": [0.5, 1.3, 1.7],
        "u": [0.1] * 3,
        "scatter": "stated",
        "at": [20],
    }
    found = asked("drift", **fields, u_new=0.1, upper=2.2)
    spread = 0.1 * (1 + 20**2 / (6**2 + 12**2 + 18**2)) ** 0.5
    assert found["at"][0]["s_prediction"] == pytest.approx(spread)
    mean = 20 * found["rate"]
    assert found["at"][0]["reliability"] == pytest.approx(stats.norm.cdf((2.2 - mean) / spread))
    with pytest.raises(QuestionRefused, match="further value"):
        asked("drift", **fields, upper=2.2)


def test_a_drift_without_limits_reaches_nothing() -> None:
    found = asked("drift", elapsed=[6, 12, 18], changes=[0.5, 1.1, 1.4], at=[24])
    assert found["limits"] is None and found["uncertainty"] is None
    assert found["at"][0]["reliability"] is None
    assert found["at"][0]["change"] == pytest.approx(24 * found["rate"])


def test_a_periodic_error_is_found_in_noise() -> None:
    lengths = np.arange(0, 3, 0.13)
    errors = 2 * np.sin(2 * np.pi * lengths / 0.5 + 0.7) + 0.3 * lengths + RNG.normal(0, 0.05, len(lengths))
    found = asked("periodic", lengths=lengths.tolist(), errors=errors.tolist(), period=0.5, with_trend=True)
    assert found["amplitude"] == pytest.approx(2, abs=4 * found["u_amplitude"])
    assert found["phase"] == pytest.approx(0.7, abs=4 * found["u_phase"])
    assert found["trend"] == pytest.approx(0.3, abs=4 * found["u_trend"])
    assert found["p_value"] < 1e-9


def test_points_that_see_one_phase_only_are_refused_with_their_phases() -> None:
    with pytest.raises(QuestionRefused, match="whole number of periods"):
        asked("periodic", lengths=[25, 50, 75, 100], errors=[0, 1, 0, 1], period=0.5)


def test_a_chart_names_its_signals() -> None:
    found = asked("chart", centre=0, s=1, nu=20, values=[0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 3.5])
    assert [one["status"] for one in found["values"]] == ["in"] * 7 + ["out"]
    assert {one["pattern"] for one in found["signals"]} >= {"one beyond 3 s"}
    assert found["student_limits"][1] == pytest.approx(stats.t.ppf(0.975, 20))


def test_groups_are_compared_as_a_statistics_library_does() -> None:
    one, other = RNG.normal(0, 1, 9), RNG.normal(1, 2, 7)
    groups = [{"mean": g.mean(), "s": g.std(ddof=1), "count": len(g)} for g in (one, other)]
    for equal in (True, False):
        t, p = stats.ttest_ind(one, other, equal_var=equal)
        found = asked("chart", groups=groups, has_equal_spread=equal)
        assert (found["means"]["t"], found["means"]["p_value"]) == pytest.approx((t, p))
    F = one.var(ddof=1) / other.var(ddof=1)
    assert found["spreads"]["F"] == pytest.approx(F)
    assert found["spreads"]["p_value"] == pytest.approx(2 * min(stats.f.cdf(F, 8, 6), stats.f.sf(F, 8, 6)))


def test_the_next_spread_is_held_against_the_pooled_one() -> None:
    groups = [{"s": s, "count": 6} for s in (0.05, 0.06, 0.07)]
    found = asked("chart", groups=groups, next_nu=5, probability=0.99)
    assert found["pooled"]["nu"] == 15
    assert found["limit_of_next_s"] == pytest.approx(found["pooled"]["s"] * stats.f.ppf(0.99, 5, 15) ** 0.5)


def test_the_moving_average_has_the_limits_it_is_asked_for() -> None:
    wide, narrow = (asked("chart", centre=0, s=1, values=[0.5], multiple=m) for m in (3, 2))
    assert wide["values"][0]["half_width"] == pytest.approx(3 * 0.2)  # the first average is 0.2·x
    assert wide["settled_half_width"] / narrow["settled_half_width"] == pytest.approx(3 / 2)


def test_a_result_that_agrees_with_nobody_is_left_out_of_the_consensus_when_asked() -> None:
    results = [{"value": v, "U": 0.2} for v in (1.0, 1.05, 0.95, 3.0)]
    whole = asked("comparison", results=results)["consensus"]
    assert not whole["is_consistent"]
    assert whole["p_value"] == pytest.approx(stats.chi2.sf(whole["chi_squared"], 3))
    subset = asked("comparison", results=results, find_subset=True)["consensus"]
    assert subset["included"] == [0, 1, 2]
    assert subset["value"] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("fit", {"x": [1, 2], "y": [1]}),
        ("fit", {"x": [1, 1, 1], "y": [1, 2, 3]}),
        ("fit", {"x": [1, 2, 3], "y": [1, 2, 3], "degree": 7}),
        ("drift", {"elapsed": [6], "changes": [1]}),
        ("chart", {}),
        ("chart", {"baseline": [1, 1, 1]}),
        ("chart", {"centre": 0, "s": 0}),
        ("comparison", {"results": [{"value": 1, "U": 0}], "reference": {"value": 1, "U": 0}}),
    ],
)  # fmt: skip
def test_what_has_no_answer_is_refused_by_name(kind: str, fields: dict[str, Any]) -> None:
    with pytest.raises((QuestionUnreadable, QuestionRefused)):
        asked(kind, **fields)
