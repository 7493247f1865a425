"""Records: which count, on which time axis; too little of them keeps the interval, and says what is needed."""

from __future__ import annotations

import math
from datetime import date

import pytest
from scipy import stats

from labsys.errors import LabError
from labsys.metrology.intervals.assigning import Bounds, Change
from labsys.metrology.intervals.checks import (
    ChecksUnusable,
    Renewal,
    RenewalContradicted,
    from_records,
    grouped,
)
from labsys.metrology.intervals.fitting import OutcomesAllAlike, fit
from labsys.metrology.intervals.homogeneity import compare_items
from labsys.metrology.intervals.models import MODELS, ModelName
from labsys.metrology.intervals.records import DAYS_PER_MONTH, LeftOut, Record, count, elapsed_months, usable
from labsys.metrology.intervals.reliability import propose_by_model
from labsys.metrology.intervals.testing import (
    Aim,
    propose_by_test,
    propose_simple_exponential,
    within_window,
)

BOUNDS = Bounds(minimum_months=1, maximum_months=60)


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


# The time axis of each policy


def spans(records: list[Record], renewal: Renewal) -> list[tuple[float, float, int, int]]:
    found = from_records(records, renewal)
    assert found is not None
    return [(one.start, one.age, one.in_tolerance, one.out) for one in found.each]


HISTORY = [Record("a", 6, True), Record("a", 5, True), Record("a", 7, False), Record("a", 4, True)]


def test_renewed_always_the_age_is_the_time_since_the_calibration_before() -> None:
    assert spans(HISTORY, Renewal.ALWAYS) == [(0, 4, 1, 0), (0, 5, 1, 0), (0, 6, 1, 0), (0, 7, 0, 1)]


def test_renewed_if_failed_the_age_runs_on_until_the_item_is_out() -> None:
    assert spans(HISTORY, Renewal.IF_FAILED) == [(0, 4, 1, 0), (0, 6, 1, 0), (6, 11, 1, 0), (11, 18, 0, 1)]


def test_renewed_as_needed_the_age_runs_on_until_the_item_is_adjusted() -> None:
    records = [
        Record("a", 6, True, was_renewed=False), Record("a", 5, True, was_renewed=True),
        Record("a", 7, False, was_renewed=False), Record("a", 3, False, was_renewed=True),
        Record("a", 4, True, was_renewed=False),
    ]  # fmt: skip
    found = from_records(records, Renewal.AS_NEEDED)
    assert found is not None
    assert spans(records, Renewal.AS_NEEDED) == [(0, 4, 1, 0), (0, 6, 1, 0), (0, 7, 0, 1), (6, 11, 1, 0)]
    # Left out of tolerance, the item was known to be out already: its next outcome says nothing.
    assert found.data.left_out == {LeftOut.FAILED_BEFORE.value: 1}


@pytest.mark.parametrize(
    ("between", "expected"),
    [
        # Nothing was learned and nothing done: the age runs on, known in at 6.
        (Record("a", 5, None, left_out=LeftOut.NOT_AS_FOUND), (6, 18)),
        (Record("a", 5, True, left_out=LeftOut.VOID), (6, 18)),
        # Found out, under “renew if failed” it was put right, whatever became of the calibration.
        (Record("a", 5, False, left_out=LeftOut.RE_EVALUATED), (0, 7)),
        (Record("a", 5, None, was_renewed=True, left_out=LeftOut.VOID), (0, 7)),
        (Record("a", 5, None, left_out=LeftOut.DAMAGED), (0, 7)),
        (Record("a", 5, None, left_out=LeftOut.FIRST_EVER), (0, 7)),
    ],
)
def test_what_is_left_out_leaves_the_age_running_unless_the_item_was_renewed(
    between: Record, expected: tuple[float, float]
) -> None:
    found = from_records([Record("a", 6, True), between, Record("a", 7, True)], Renewal.IF_FAILED)
    assert found is not None
    assert [(one.start, one.age) for one in found.each][-1] == expected
    assert found.data.left_out == {between.left_out.value if between.left_out else "": 1}


def test_items_age_each_by_itself_and_like_checks_are_counted_together() -> None:
    records = [Record(item, 6, item != "c") for item in "abc"] + [Record("a", 6, True), Record("b", 6, False)]
    assert spans(records, Renewal.IF_FAILED) == [(0, 6, 2, 1), (6, 12, 1, 1)]


@pytest.mark.parametrize(
    ("record", "renewal"),
    [
        (Record("a", 6, True, was_renewed=False), Renewal.ALWAYS),
        (Record("a", 6, True, was_renewed=True), Renewal.IF_FAILED),
        (Record("a", 6, False, was_renewed=False), Renewal.IF_FAILED),
        (Record("a", 6, True), Renewal.AS_NEEDED),
    ],
)
def test_a_record_against_its_policy_is_refused(record: Record, renewal: Renewal) -> None:
    with pytest.raises(RenewalContradicted, match="renew as needed"):
        from_records([record], renewal)


@pytest.mark.parametrize(
    ("ages", "n", "x"), [([], [], []), ([6], [0], [0]), ([6], [2], [3]), ([0], [2], [1]), ([math.nan], [2], [1]),
                         ([6, 12], [2], [1]), ([6], [2], [-1])]
)  # fmt: skip
def test_counts_that_are_none_are_refused(ages: list[float], n: list[int], x: list[int]) -> None:
    with pytest.raises(ChecksUnusable):
        grouped(ages, n, x)


def test_nothing_usable_is_none_and_not_an_error() -> None:
    assert from_records([], Renewal.ALWAYS) is None
    assert from_records([Record("a", 0, True)], Renewal.ALWAYS) is None


# Items beside their group


def test_the_bad_item_and_the_good_one_are_found_among_the_records() -> None:
    histories = {"dog": (3, 5), "gem": (60, 0), "b": (14, 6), "c": (15, 5), "d": (16, 4), "e": (14, 6)}
    records = [
        Record(item, 12, index < ins)
        for item, (ins, outs) in histories.items()
        for index in range(ins + outs)
    ]
    found = compare_items([*records, Record("dog", 12, False, left_out=LeftOut.DAMAGED)])
    assert found.items[0].item == "dog"
    assert [one.item for one in found.flagged] == ["dog", "gem"]
    by_name = {one.item: one for one in found.items}
    others = (60 + 14 + 15 + 16 + 14) / (60 + 20 * 4)
    assert by_name["dog"].others_reliability == pytest.approx(others)
    assert by_name["dog"].judged.p_lower == pytest.approx(stats.binom.cdf(3, 8, others))
    rest = (3 + 14 + 15 + 16 + 14) / (8 + 20 * 4)
    assert by_name["gem"].judged.p_upper == pytest.approx(rest**60)
    assert found.data.left_out == {LeftOut.DAMAGED.value: 1}
    assert found.most_by_chance == pytest.approx(0.12)


def test_one_failure_among_items_without_any_condemns_nobody() -> None:
    records = [Record("a", 12, True)] * 5 + [Record("b", 12, True), Record("b", 12, False)]
    assert compare_items(records).flagged == ()


def test_one_item_alone_is_not_compared_and_the_need_is_said() -> None:
    for records in ([], [Record("a", 12, True)] * 9):
        found = compare_items(records)
        assert found.items == () and "two items" in found.needs
