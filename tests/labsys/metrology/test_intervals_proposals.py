"""Proposals by a model and by the drift: what they ask for, what holds them back, what they say; and refusals."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from scipy import stats

from labsys.errors import LabError
from labsys.metrology.intervals import closed
from labsys.metrology.intervals.assigning import (
    Bounds,
    BoundsCrossed,
    Cap,
    Change,
    IntervalOutOfRange,
    assign,
)
from labsys.metrology.intervals.binomial import (
    CountsCrossed,
    TargetOutOfReach,
    item_in_group,
    least_n,
    reliability_limits,
)
from labsys.metrology.intervals.checks import Checks, grouped
from labsys.metrology.intervals.comparing import NoModelNamed, compare_models
from labsys.metrology.intervals.models import ModelName
from labsys.metrology.intervals.records import DataCount
from labsys.metrology.intervals.reliability import propose_by_model
from labsys.metrology.intervals.responses import (
    Response,
    equilibrium,
    incremental_response,
    propose_response,
    simple_response,
)
from labsys.metrology.intervals.staircase import (
    FoundError,
    NoRoomInLimits,
    Stairs,
    StairsCrossed,
    share_used,
    staircase,
)
from labsys.metrology.intervals.testing import Aim, propose_by_test
from labsys.metrology.intervals.variables import ValueAim, propose_by_drift, reaches
from labsys.metrology.limits import LimitMissing, Limits
from labsys.metrology.questions.asking import answer_file
from tests.labsys.metrology.published import case

D = Decimal
BOUNDS = Bounds()
STABLE = grouped([6, 12, 18], [400, 500, 300], [398, 495, 292])
WORN = grouped([6, 12, 18], [60, 80, 40], [55, 62, 22])


def worked(name: str) -> Checks:
    data = next(one for one in case("interval-cases")["cases"] if one["id"] == name)["inputs"]
    return grouped(data["t_months"], data["n"], data["x_in_tol"])


# By a model


def test_a_longer_interval_is_the_lower_limit_and_a_shorter_one_the_estimate() -> None:
    longer = propose_by_model(STABLE, 6, aim=Aim(), bounds=BOUNDS)
    assert longer.limits is not None and longer.limits.low > 6
    assert longer.proposal.finding.wanted_months == longer.limits.low
    assert longer.proposal.outcome.change is Change.LENGTHEN
    assert longer.proposal.takes_effect == "from the next calibration on"
    shorter = propose_by_model(WORN, 12, aim=Aim(), bounds=BOUNDS)
    assert shorter.limits is not None and shorter.limits.high < 12
    assert shorter.proposal.finding.wanted_months == shorter.limits.months
    assert shorter.proposal.outcome.months == 6
    assert shorter.proposal.takes_effect.startswith("now")


def test_nothing_is_proposed_beyond_what_was_observed() -> None:
    found = propose_by_model(STABLE, 18, aim=Aim(target=0.8), bounds=BOUNDS)
    assert found.proposal.outcome.bounded_months == 1.25 * 18
    assert found.proposal.outcome.caps == (Cap.STEP_UP, Cap.OBSERVED, Cap.ROUNDING)


def test_the_spread_of_the_worked_case_is_said() -> None:
    """Its lesson: all models fit, and their answers differ by half."""
    six = ("exponential", "weibull", "mixed_exponential", "random_walk", "mortality_drift", "warranty")
    found = propose_by_model(
        worked("S2-1"), 12, aim=Aim(), bounds=BOUNDS, models=[ModelName(one) for one in six]
    )
    compared = found.compared
    assert compared is not None and compared.spread is not None
    assert len(compared.adequate_months) == 6
    assert compared.spread == pytest.approx(8.53652 / 5.55855 - 1, rel=1e-3)
    assert any("differ by 54%" in note for note in found.proposal.finding.notes)
    assert any("ran to an edge" in note for note in found.proposal.finding.notes)


def test_a_model_that_contains_the_exponential_is_taken_only_where_it_is_proven_needed() -> None:
    plain = compare_models(worked("S2-1"), 0.95, [ModelName.EXPONENTIAL, ModelName.WEIBULL])
    assert plain.rows[0].fit.name is ModelName.WEIBULL  # the least criterion, and yet
    ratio = 2 * (plain.rows[0].fit.log_likelihood - plain.rows[1].fit.log_likelihood)
    assert plain.rows[0].p_against_exponential == pytest.approx(stats.chi2.sf(ratio, 1), rel=1e-6)
    assert plain.taken is not None and plain.taken.fit.name is ModelName.EXPONENTIAL
    steep = grouped([6, 12, 18, 24], [100] * 4, [100, 99, 90, 60])
    needed = compare_models(steep, 0.95, [ModelName.EXPONENTIAL, ModelName.WEIBULL])
    assert needed.taken is not None and needed.taken.fit.name is ModelName.WEIBULL


def test_without_an_adequate_model_the_interval_is_kept() -> None:
    rising = grouped([3, 6, 12, 24], [100] * 4, [99, 40, 95, 30])
    found = propose_by_model(rising, 12, aim=Aim(), bounds=BOUNDS)
    assert found.compared is not None and found.compared.taken is None and found.compared.spread is None
    assert found.proposal.outcome.change is Change.KEEP
    assert "no adequate model" in found.proposal.finding.notes[0]


def test_items_out_from_the_beginning_are_said_to_be_beyond_any_interval() -> None:
    bad = grouped([1, 12, 24], [40, 40, 40], [22, 20, 17])
    found = propose_by_model(bad, 12, aim=Aim(), bounds=BOUNDS, models=[ModelName.WARRANTY]).proposal
    assert found.outcome.change is Change.KEEP
    assert any("no interval can reach it" in note for note in found.finding.notes)


def test_a_comparison_of_nothing_is_refused() -> None:
    with pytest.raises(NoModelNamed):
        compare_models(STABLE, 0.95, [])


# By the drift


VAR_1 = case("var-1")
VALUES = (VAR_1["inputs"]["dt_months"], VAR_1["inputs"]["dy_um"])
VALUE_AIM = ValueAim(as_left=0.5, lower=-4.0, upper=4.0, u_start=0.25, u_required=0.6)


def test_the_drift_asks_for_what_it_predicts_and_gets_what_was_observed() -> None:
    """The data of the worked case VAR-1, whose time is 31.9 months, the longest observed 24."""
    found = propose_by_drift(VALUES, 18, aim=VALUE_AIM, bounds=BOUNDS)
    assert found.finding.raw_months == pytest.approx(31.8946, rel=1e-4)
    assert (found.outcome.months, found.outcome.caps) == (24, (Cap.OBSERVED,))
    assert any("beyond the longest time observed" in note for note in found.finding.notes)
    assert found.finding.figures["months_within_uncertainty"] == pytest.approx(128.832, rel=1e-4)


def test_the_predicted_time_meets_the_target_by_a_library() -> None:
    times, changes = (np.array(one) for one in VALUES)
    rate = float((times * changes).sum() / (times**2).sum())
    s = math.sqrt(float(((changes - rate * times) ** 2).sum()) / 9)
    T = reaches(*VALUES, VALUE_AIM).limits.time
    spread = s * math.sqrt(1 + T**2 / float((times**2).sum()))
    law = stats.t(9, loc=0.5 + rate * T, scale=spread)
    assert law.cdf(4) - law.cdf(-4) == pytest.approx(0.95, rel=1e-6)


def test_the_uncertainty_can_be_the_shorter_of_the_two() -> None:
    tight = ValueAim(as_left=0.5, lower=-4.0, upper=4.0, u_start=0.25, u_required=0.32)
    found = reaches(*VALUES, tight)
    assert found.uncertainty is not None and found.months == found.uncertainty.time < found.limits.time


@pytest.mark.parametrize("count", [0, 1])
def test_too_few_changes_keep_and_say_how_many_it_takes(count: int) -> None:
    values = (VALUES[0][:count], VALUES[1][:count])
    found = propose_by_drift(values, 12, aim=VALUE_AIM, bounds=BOUNDS)
    assert (found.outcome.change, found.finding.data.used) == (Change.KEEP, count)
    assert found.finding.needs == "2 changes from as-left to as-found"


# Reactive methods, tests and rules


def test_a_response_without_outcomes_keeps_and_says_what_it_needs() -> None:
    empty = propose_response(Response.SIMPLE, 12, [], 12.0, BOUNDS)
    assert (empty.outcome.change, empty.finding.needs) == (Change.KEEP, "one as-found outcome")
    one = propose_response(Response.INCREMENTAL, 12, [False], 0.6, BOUNDS)
    assert (one.outcome.months, one.outcome.caps) == (6, (Cap.STEP_DOWN,))


def test_a_staircase_without_errors_keeps_and_says_what_it_needs() -> None:
    found = staircase([], 12, stairs=Stairs(), bounds=BOUNDS)
    assert (found.outcome.change, found.finding.needs) == (
        Change.KEEP,
        "one calibration with as-found errors",
    )


def test_the_worst_point_and_its_uncertainty_decide() -> None:
    limits = Limits(D("-0.01"), D("0.01"))
    errors = [FoundError(D("0.002"), limits), FoundError(D("-0.007"), limits, D("0.002"))]
    assert staircase(errors, 12, stairs=Stairs(), bounds=BOUNDS).finding.figures[
        "share_used"
    ] == pytest.approx(0.9)


def test_a_lengthening_test_stays_within_what_was_observed() -> None:
    data = DataCount(100, 100, {})
    found = propose_by_test(data, 12, aim=Aim(), bounds=BOUNDS, longest_months=12.5)
    assert found.outcome.months == 15
    assert Cap.OBSERVED in found.outcome.caps


def test_the_familys_maximum_wins_over_a_kept_interval_and_its_minimum_never_doubles_twice() -> None:
    assert assign(60, 60, Bounds(maximum_months=24)).months == 24
    assert assign(2, 2, Bounds(minimum_months=12)).months == 4
    assert assign(60, math.inf, Bounds(maximum_months=120)).months == 120
    assert assign(60, 80, Bounds(maximum_months=120)).months == 72


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        (lambda: assign(12, math.nan, BOUNDS), IntervalOutOfRange),
        (lambda: assign(0, 12, BOUNDS), IntervalOutOfRange),
        (lambda: Bounds(minimum_months=24, maximum_months=12), BoundsCrossed),
        (lambda: Bounds(most_factor=2.5), BoundsCrossed),
        (lambda: Bounds(least_factor=math.nan), BoundsCrossed),
        (lambda: reliability_limits(0, 0), CountsCrossed),
        (lambda: reliability_limits(5, 6), CountsCrossed),
        (lambda: reliability_limits(5, 3, confidence=1.0), LabError),
        (lambda: item_in_group(5, 3, 1.0), LabError),
        (lambda: item_in_group(5, 3, 0.9, threshold=0.0), LabError),
        (lambda: least_n(1 - 1e-9, out=3), TargetOutOfReach),
        (lambda: least_n(math.nan), LabError),
        (lambda: Aim(target=1.0), LabError),
        (lambda: equilibrium(0.95, 0.0), LabError),
        (lambda: simple_response(12, [True], a=0.1, b=1.0), LabError),
        (lambda: simple_response(math.inf, [True], a=0.1, b=0.5), IntervalOutOfRange),
        (lambda: incremental_response(12, [True], target=0.9, delta=1.5), LabError),
        (lambda: closed.interval_for(0.95, months=12, observed=0.9, start=0.93), closed.StartTooLow),
        (lambda: closed.interval_for(0.95, months=12, observed=0.9, shape=0.0), closed.ShapeOutOfRange),
        (lambda: closed.interval_for(0.95, months=12, observed=1.0), LabError),
        (lambda: closed.average_over_period(1.0), LabError),
        (lambda: Stairs(inner=D("1.2")), StairsCrossed),
        (lambda: share_used(FoundError(D("0"), Limits(None, None))), LimitMissing),
        (lambda: share_used(FoundError(D("0"), Limits(None, D("0")))), NoRoomInLimits),
    ],
)  # fmt: skip
def test_what_cannot_be_worked_out_is_refused_by_name(
    wrong: Callable[[], Any], error: type[LabError]
) -> None:
    with pytest.raises(error, match="[Ee]xpected") as refused:
        wrong()
    assert isinstance(refused.value, ValueError)


# Asked as files


def asked(**fields: Any) -> Any:
    answered: Any = answer_file({"format": 1, "questions": [{"kind": "interval", **fields}]})
    return answered["answers"][0]["values"]


RECORDS = [
    {"item": "a", "elapsed_months": 0, "in_tolerance": True, "left_out": "first-ever calibration"},
    {"item": "a", "elapsed_months": 12, "in_tolerance": True},
    {"item": "a", "elapsed_months": 11, "in_tolerance": False},
    {"item": "b", "elapsed_months": 13, "in_tolerance": True},
    {"item": "b", "elapsed_months": 12, "left_out": "calibration withdrawn"},
    {"item": "b", "elapsed_months": 30, "in_tolerance": True},
]


@pytest.mark.parametrize(
    "method", ["interval_test", "simple_exponential", "reliability_model", "items_in_group"]
)
def test_records_are_counted_and_what_is_left_out_is_said(method: str) -> None:
    fields = {"records": RECORDS, **({} if method == "items_in_group" else {"interval_months": 12})}
    data = asked(method=method, **fields)["data"]
    assert data["left_out"]["first-ever calibration"] == data["left_out"]["calibration withdrawn"] == 1
    assert data["used"] + sum(data["left_out"].values()) == len(RECORDS)


def test_a_drift_is_asked_for_with_one_limit_for_both_sides() -> None:
    values = asked(method="variables", interval_months=18, elapsed_months=list(VALUES[0]), changes=list(VALUES[1]),
                   as_left=0.5, limit=4, u_start=0.25, u_required=0.6)  # fmt: skip
    assert values["proposed_months"] == 24
    assert values["capped_by"] == ["longest observed time"]


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"method": "guessing"}, "method"),
        ({"method": "interval_test", "interval_months": 12, "records": [{"elapsed_months": -1}]}, "elapsed_months"),
        ({"method": "simple_response", "a": 0.1, "outcomes": [2]}, r"outcomes\[0\]"),
        ({"method": "reliability_model", "interval_months": 12, "models": ["best"], "ages_months": [1], "n": [1],
          "in_tolerance": [1]}, "models"),
        ({"method": "reliability_model", "interval_months": 12, "ages_months": [1], "n": [1.5],
          "in_tolerance": [1]}, r"n\[0\]"),
        ({"method": "interval_test", "interval_months": 12, "records": [], "window": [1.2, 0.8]}, "window"),
        ({"method": "staircase", "interval_months": 12, "errors": [], "inner": 0.5}, "inner_fraction"),
    ],
)  # fmt: skip
def test_a_wrong_question_names_the_place(fields: dict[str, Any], place: str) -> None:
    with pytest.raises(LabError, match=place):
        asked(**fields)
