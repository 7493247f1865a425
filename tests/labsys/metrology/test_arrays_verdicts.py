"""Acceptance limits and verdicts by arrays: the same integers and words as one by one, under every rule."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labsys.errors import LabError
from labsys.metrology.arrays import (
    NO_LOWER,
    NO_UPPER,
    NO_VERDICT,
    REFUSALS,
    VERDICTS,
    LimitArrays,
    LimitTooFar,
    ShapesDiffer,
    UncertaintyArrays,
    conformance_probabilities,
    judge_many,
    verdicts_in,
    zones_many,
)
from labsys.metrology.arrays.coverage import SHAPES
from labsys.metrology.budget import Budget
from labsys.metrology.conformance import Spread, conformance_probability
from labsys.metrology.coverage import FreedomRule, NoSpread, Shape
from labsys.metrology.decision import (
    AccuracyRatioNotDefined,
    AccuracyRatioTooLow,
    EmptyAcceptanceZone,
    LimitMissing,
    Limits,
    LimitsCrossed,
    Rule,
    RuleKind,
    Verdict,
    acceptance_limits,
    decide,
)
from labsys.metrology.error import from_picometres
from labsys.metrology.verdicts import roll_up
from labsys.metrology.views import View, Views
from tests.labsys.metrology.published import case

VIEW = View.CALIBRATION
RULES = st.one_of(
    st.sampled_from([None, Decimal(4), Decimal("3.3"), Decimal(1), Decimal("1.23456789012345")]).map(
        lambda ratio: Rule(RuleKind.SIMPLE, VIEW, min_ratio=ratio)
    ),
    st.builds(
        lambda kind, g: Rule(kind, VIEW, g=g),
        st.sampled_from([RuleKind.GUARDED, RuleKind.PROVE, RuleKind.FOUR_WAY]),
        st.sampled_from([Decimal(0), Decimal(1), Decimal("0.83"), Decimal("1.5"), Decimal("0.333333333333")]),
    ),
    st.sampled_from(["0.05", "0.02275", "0.5", "0.001"]).map(
        lambda risk: Rule(RuleKind.SPECIFIC_RISK, VIEW, max_false_accept=Decimal(risk))
    ),
    st.just(Rule(RuleKind.PRESCRIBED, VIEW, document="ISO 3611:2023, 6.2")),
)
SIDE = st.none() | st.integers(-20_000_000, 20_000_000)
LIMITS = st.tuples(SIDE, SIDE).map(
    lambda two: Limits(*(None if one is None else from_picometres(one) for one in _ordered(*two)))
)
WIDTHS = st.one_of(
    st.just(0.0),
    st.floats(1e-7, 0.02),
    # Halves of a picometre and their neighbours, where rounding could go either way.
    st.builds(
        lambda n, ulps: (n / 2) * 1e-9 + ulps * math.ulp(1e-3), st.integers(1, 10**7), st.integers(-2, 2)
    ),
    st.integers(1, 20000).map(lambda n: n / 1e6),
)


def _ordered(lower: int | None, upper: int | None) -> tuple[int | None, int | None]:
    return (upper, lower) if lower is not None and upper is not None and lower > upper else (lower, upper)


@st.composite
def spreads(draw: st.DrawFn) -> tuple[float, Spread]:
    U = draw(WIDTHS)
    shape = draw(st.sampled_from(Shape))
    nu = draw(st.sampled_from([math.inf, 1.0, 9.0, 50.0])) if shape is Shape.NORMAL_OR_T else math.inf
    beta = draw(st.floats(0, 0.9)) if shape is Shape.TRAPEZOIDAL else 0.0
    return U, Spread(U / 2, shape, nu, beta)


def arrays_of(spreads: list[tuple[float, Spread]]) -> UncertaintyArrays:
    return UncertaintyArrays(
        np.array([U for U, _ in spreads]),
        np.array([one.u_mm for _, one in spreads]),
        np.array([one.nu for _, one in spreads]),
        np.array([SHAPES.index(one.shape) for _, one in spreads], np.int8),
        np.array([one.beta for _, one in spreads]),
    )


def views_of(U_mm: float, spread: Spread) -> Views:
    beta = spread.beta if spread.shape is Shape.TRAPEZOIDAL else None
    budget = Budget(
        (), spread.u_mm, spread.nu, spread.nu, 2.0, spread.shape, beta, 0.9545, FreedomRule.TRUNCATE, U_mm
    )
    return Views(budget, budget)


@st.composite
def points(draw: st.DrawFn) -> tuple[int, Limits, tuple[float, Spread]]:
    """Draw a result; its error often lies on a limit, or on one moved by U, or a picometre beside."""
    limits, (U, spread) = draw(LIMITS), draw(spreads())
    anywhere = draw(st.integers(-25_000_000, 25_000_000))
    ends = [end for end in limits.in_picometres() if end is not None] or [anywhere]
    near = draw(st.sampled_from(ends)) + draw(st.sampled_from([0, round(U * 1e9), -round(U * 1e9)]))
    return draw(st.sampled_from([anywhere, near + draw(st.integers(-1, 1))])), limits, (U, spread)


@settings(max_examples=250, deadline=None)
@given(RULES, st.lists(points(), min_size=1, max_size=8))
def test_arrays_give_the_integers_and_verdicts_of_one_by_one(
    rule: Rule, results: list[tuple[int, Limits, tuple[float, Spread]]]
) -> None:
    errors = np.array([error for error, _, _ in results])
    limits = LimitArrays.of([one for _, one, _ in results])
    many = judge_many(errors, limits, rule, arrays_of([one for _, _, one in results]))
    for i, (error, one, (U, spread)) in enumerate(results):
        try:
            zone = acceptance_limits(one, rule, U, spread.u_mm, spread=spread)
        except LabError as refusal:
            assert REFUSALS[many.zones.refusals[i]] is type(refusal)
            assert many.verdicts[i] == NO_VERDICT
            with pytest.raises(type(refusal)):
                many.one(i)
            continue
        assert many.zones.acceptance(i) == zone
        decision = decide(
            error_mm=from_picometres(error),
            limits=one,
            rule=rule,
            views=views_of(U, spread),
            reported_error_mm=Decimal(0),
        )
        assert many.zones.outer(i) == decision.outer
        assert many.one(i) is decision.verdict is VERDICTS[many.verdicts[i]]


@pytest.mark.parametrize("kind", [RuleKind.GUARDED, RuleKind.PROVE])
def test_a_guard_of_half_a_picometre_goes_to_the_even_limit(kind: RuleKind) -> None:
    # 1e-9 of half a millimetre is half a picometre exactly; which way it goes depends on the limit alone.
    lowers = np.arange(-6, 7)
    limits = LimitArrays(lowers, lowers + 101)
    U = UncertaintyArrays.normal(np.full(len(lowers), 0.5))
    zones = zones_many(limits, Rule(kind, VIEW, g=Decimal("0.000000001")), U)
    half = Fraction(1, 2)
    assert zones.lower_pm.tolist() == [round(int(one) + half) for one in lowers]
    assert zones.upper_pm.tolist() == [round(int(one) + 101 - half) for one in lowers]
    if kind is RuleKind.PROVE:
        assert zones.outer_lower_pm.tolist() == [round(int(one) - half) for one in lowers]


def test_a_float_beside_half_a_picometre_is_rounded_by_its_exact_value() -> None:
    U_mm = np.arange(0.5, 400) * 1e-9
    exact = [round(Fraction(float(one)) * 10**9) for one in U_mm]
    assert exact != np.rint(U_mm * 1e9).tolist(), "some products of floats land on the tie itself"
    guards = zones_many(
        LimitArrays(np.zeros(400, int), np.full(400, 10**6)),
        Rule(RuleKind.GUARDED, VIEW),
        UncertaintyArrays.normal(U_mm),
    )
    assert guards.lower_pm.tolist() == exact
    # Limits at exactly four times U in whole picometres: the ratio is just high enough, a picometre less isn't.
    four, rule = 4 * np.array(exact[1:]), Rule(RuleKind.SIMPLE, VIEW)
    for lower, refusal in ((-four, 0), (1 - four, REFUSALS.index(AccuracyRatioTooLow))):
        found = zones_many(LimitArrays(lower, four), rule, UncertaintyArrays.normal(U_mm[1:]))
        assert (found.refusals == refusal).all()


@settings(max_examples=100, deadline=None)
@given(st.lists(points(), min_size=1, max_size=8))
def test_conformance_probabilities_are_those_of_one_by_one(
    results: list[tuple[int, Limits, tuple[float, Spread]]],
) -> None:
    some = [one for one in results if one[1] != Limits(None, None)]
    if not some:
        return
    found = conformance_probabilities(
        np.array([error for error, _, _ in some]),
        LimitArrays.of([one for _, one, _ in some]),
        arrays_of([one for _, _, one in some]),
    )
    expected = [
        conformance_probability(from_picometres(error), limits, spread) for error, limits, (_, spread) in some
    ]
    assert found == pytest.approx(expected, abs=1e-15, rel=1e-12)


WORDS = {
    "pass": "in_tolerance",
    "conditional pass": "conditional_inside",
    "conditional fail": "conditional_outside",
    "fail": "out_of_tolerance",
    "neither": "not_decided",
}


@pytest.mark.parametrize(
    ("column", "kind"),
    [("simple", RuleKind.SIMPLE), ("non_binary", RuleKind.FOUR_WAY), ("prove_conformance", RuleKind.PROVE)],
)
def test_the_published_table_of_verdicts_by_arrays(column: str, kind: RuleKind) -> None:
    rows = case("dec-1")["expected"]
    errors = np.array([round(float(row["error"]) * 1e6) for row in rows])
    limits = LimitArrays.of([Limits(Decimal("-0.004"), Decimal("0.004"))] * len(rows))
    many = judge_many(errors, limits, Rule(kind, VIEW), UncertaintyArrays.normal(np.full(len(rows), 0.0008)))
    assert [VERDICTS[number].value for number in many.verdicts] == [WORDS[row[column]] for row in rows]


def test_the_most_severe_is_the_largest_number() -> None:
    for i, mild in enumerate(Verdict):
        for j, severe in enumerate(Verdict):
            assert VERDICTS[max(i, j)] is roll_up([mild, severe])


def test_a_refused_result_stops_no_other() -> None:
    limits = LimitArrays(
        np.array([-4_000_000, NO_LOWER, NO_LOWER, -4_000_000]),
        np.array([4_000_000, 4_000_000, NO_UPPER, 4_000_000]),
    )
    U = UncertaintyArrays.normal(np.array([0.0008, 0.0008, 0.0008, 0.005]))
    errors = np.zeros(4, np.int64)
    simple = judge_many(errors, limits, Rule(RuleKind.SIMPLE, VIEW), U)
    assert [REFUSALS[number] for number in simple.zones.refusals] == [
        None,
        AccuracyRatioNotDefined,
        LimitMissing,
        AccuracyRatioTooLow,
    ]
    guarded = judge_many(errors, limits, Rule(RuleKind.GUARDED, VIEW), U)
    assert [REFUSALS[number] for number in guarded.zones.refusals] == [
        None,
        None,
        LimitMissing,
        EmptyAcceptanceZone,
    ]
    assert guarded.verdicts.tolist() == [0, 0, NO_VERDICT, NO_VERDICT]


def test_a_thousand_in_several_blocks_are_the_same() -> None:
    count = 40_000
    errors = np.linspace(-6e6, 6e6, count).astype(np.int64)
    limits = LimitArrays(np.full(count, -4_000_000), np.full(count, 4_000_000))
    found = judge_many(
        errors, limits, Rule(RuleKind.FOUR_WAY, VIEW), UncertaintyArrays.normal(np.full(count, 0.0008))
    )
    # Symmetric, with 3.2, 4.0 and 4.8 µm as edges of twelve: a tally that needs no comparison in common.
    tally = np.bincount(found.verdicts, minlength=len(VERDICTS)) / count
    inside, outside = VERDICTS.index(Verdict.CONDITIONAL_INSIDE), VERDICTS.index(Verdict.CONDITIONAL_OUTSIDE)
    shares = [tally[one] for one in (0, inside, outside, VERDICTS.index(Verdict.OUT_OF_TOLERANCE))]
    assert shares == pytest.approx([6.4 / 12, 1.6 / 12, 1.6 / 12, 2.4 / 12], abs=2 / count)


def test_what_can_not_be_judged_in_arrays() -> None:
    limits = LimitArrays(np.array([-4, -4]), np.array([4, 4]))
    U = UncertaintyArrays.normal(np.array([1e-9, 1e-9]))
    simple = Rule(RuleKind.PRESCRIBED, VIEW, document="drawing")
    with pytest.raises(LimitsCrossed):
        LimitArrays(np.array([-4, 5]), np.array([4, 4]))
    with pytest.raises(LimitTooFar, match="point 1"):
        LimitArrays(np.array([-4, -(10**16)]), np.array([4, 4]))
    with pytest.raises(ShapesDiffer):
        LimitArrays(np.array([-4, 5]), np.array([6]))
    with pytest.raises(ShapesDiffer):
        zones_many(limits, simple, UncertaintyArrays.normal(np.array([1e-9])))
    with pytest.raises(ShapesDiffer):
        verdicts_in(zones_many(limits, simple, U), np.array([1]))
    with pytest.raises(LimitTooFar, match="an error"):
        judge_many(np.array([1, -(2**63)]), limits, simple, U)
    with pytest.raises(LimitTooFar, match="a guard or U"):
        zones_many(limits, Rule(RuleKind.GUARDED, VIEW), UncertaintyArrays.normal(np.array([1.0, 1e7])))
    for bad in (math.nan, math.inf, -1.0):
        with pytest.raises(NoSpread, match="point 1"):
            UncertaintyArrays.normal(np.array([1e-9, bad]))
    with pytest.raises(ShapesDiffer):
        UncertaintyArrays(U.U_mm, U.u_mm, U.nu, U.shapes, np.zeros(3))
    with pytest.raises(LimitMissing):
        missing: Any = LimitArrays(np.array([NO_LOWER, 0]), np.array([NO_UPPER, 4]))
        conformance_probabilities(np.array([0, 0]), missing, U)
