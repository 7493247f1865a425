"""Coverage factors: table G.2, the rectangular and trapezoidal factors, which rule holds."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from labsys.metrology.coverage import (
    FreedomRule,
    NoSpread,
    Part,
    ProbabilityOutOfRange,
    Shape,
    TooLittleFreedom,
    TrapezoidOutOfReach,
    apply_rule,
    cover,
    effective_freedom,
    rectangular_factor,
    student_factor,
    trapezoidal_factor,
)
from tests.labsys.metrology.published import case, entry, printed

INF = math.inf
# The percentages of table G.2 stand for whole numbers of standard deviations.
PROBABILITIES = {
    68.27: math.erf(1 / math.sqrt(2)),
    95.45: math.erf(math.sqrt(2)),
    99.73: math.erf(3 / math.sqrt(2)),
}


def _cell(row: dict[str, Any]) -> tuple[float, float]:
    percent, nu = row["quantity"].removeprefix("t(").removesuffix(")").split(" %, nu=")
    return PROBABILITIES.get(float(percent), float(percent) / 100), float(nu)


@pytest.mark.parametrize("row", case("g2")["expected"], ids=lambda row: row["quantity"])
def test_student_factors_of_table_g2(row: dict[str, Any]) -> None:
    probability, nu = _cell(row)
    found = student_factor(probability, nu)
    assert found == pytest.approx(row["recomputed"], rel=2e-6)
    if row.get("disagrees"):
        assert abs(found - float(row["printed"])) > row["tol"]  # a misprint of the table: 1.70 for 1.6896
    else:
        assert found == pytest.approx(float(row["printed"]), abs=row["tol"] * 1.0001)


@given(st.floats(0.5, 0.999), st.floats(1, 1e5))
def test_student_factor_agrees_with_a_statistics_library(probability: float, nu: float) -> None:
    assert student_factor(probability, nu) == pytest.approx(stats.t.ppf((1 + probability) / 2, nu), rel=1e-9)


@given(st.floats(0.01, 0.9999))
def test_infinite_freedom_is_the_normal_factor(probability: float) -> None:
    assert student_factor(probability, INF) == pytest.approx(stats.norm.ppf((1 + probability) / 2), rel=1e-12)


def test_factors_of_rectangle_and_trapezoid() -> None:
    assert rectangular_factor(0.95) == pytest.approx(1.645, abs=5e-4)  # EA-4/02, S9: 1.65
    assert trapezoidal_factor(0.95, 0.0) == pytest.approx(1.9018, abs=5e-5)  # the triangle
    k = printed("ea-s10", "k(beta,0.95)")
    assert trapezoidal_factor(0.95, 1 / 3) == pytest.approx(k, abs=entry("ea-s10", "k(beta,0.95)")["tol"])
    assert trapezoidal_factor(0.9545, 1 / 3) == pytest.approx(1.856, abs=5e-4)


@pytest.mark.parametrize(("probability", "beta"), [(0.95, 1.0), (0.5, 1 / 3), (0.95, -0.1), (0.95, math.nan)])
def test_the_trapezoids_formula_has_its_reach(probability: float, beta: float) -> None:
    with pytest.raises(TrapezoidOutOfReach):
        trapezoidal_factor(probability, beta)


def test_one_rectangle_dominates_up_to_a_rest_of_three_tenths() -> None:
    large, rest = Part(1.0, True, INF), Part(0.3, False, 5)
    found = cover([rest, large], probability=0.95, freedom_rule=FreedomRule.TRUNCATE)
    assert (found.shape, found.k, found.beta) == (Shape.RECTANGULAR, rectangular_factor(0.95), None)
    beyond = cover([Part(0.301, False, 5), large], probability=0.95, freedom_rule=FreedomRule.TRUNCATE)
    assert beyond.shape is Shape.NORMAL_OR_T


def test_two_rectangles_dominate_up_to_a_rest_of_three_tenths() -> None:
    two = [Part(0.8, True, INF), Part(0.6, True, INF)]
    found = cover([Part(0.3, False, 5), *two], probability=0.95, freedom_rule=FreedomRule.TRUNCATE)
    assert found.shape is Shape.TRAPEZOIDAL
    assert found.beta == pytest.approx(1 / 7)
    assert found.k == trapezoidal_factor(0.95, found.beta or 0)
    beyond = cover([Part(0.301, False, 5), *two], probability=0.95, freedom_rule=FreedomRule.TRUNCATE)
    assert beyond.shape is Shape.NORMAL_OR_T


@pytest.mark.parametrize("doubtful", [Part(1.0, False, INF), Part(1.0, True, 20.0)])
def test_only_a_certain_rectangle_lends_its_shape(doubtful: Part) -> None:
    found = cover([doubtful, Part(0.1, True, INF)], probability=0.95, freedom_rule=FreedomRule.KEEP)
    assert found.shape is Shape.NORMAL_OR_T


def test_beyond_the_trapezoids_reach_students_factor_holds() -> None:
    # β = 0.5 needs p above 2/3; at p = 0.6 the formula is left for the normal factor.
    parts = [Part(0.9, True, INF), Part(0.3, True, INF)]
    assert cover(parts, probability=0.6, freedom_rule=FreedomRule.KEEP).k == student_factor(0.6, INF)


@pytest.mark.parametrize(
    ("rule", "nu", "used"),
    [
        (FreedomRule.TRUNCATE, 16.75, 16.0),
        (FreedomRule.NEAREST, 41.97, 42.0),  # NIST/SEMATECH e-Handbook rounds
        (FreedomRule.KEEP, 16.75, 16.75),
        (FreedomRule.TRUNCATE, 39.999999999999996, 40.0),
        (FreedomRule.TRUNCATE, INF, INF),
    ],
)
def test_broken_degrees_of_freedom(rule: FreedomRule, nu: float, used: float) -> None:
    assert apply_rule(nu, rule) == used


@given(st.lists(st.tuples(st.floats(0.01, 10), st.floats(1, 500)), min_size=1, max_size=8))
def test_effective_freedom_lies_between_the_least_and_the_sum(pairs: list[tuple[float, float]]) -> None:
    # Property of the Welch-Satterthwaite formula (JCGM 100:2008, G.4.1).
    found = effective_freedom([Part(u, False, nu) for u, nu in pairs])
    freedoms = [nu for _, nu in pairs]
    assert min(freedoms) * (1 - 1e-9) <= found <= math.fsum(freedoms) * (1 + 1e-9)


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.5, 95.0, math.nan])
def test_a_probability_is_between_zero_and_one(probability: float) -> None:
    for factor in (lambda p: student_factor(p, 5), rectangular_factor, lambda p: trapezoidal_factor(p, 0.2)):
        with pytest.raises(ProbabilityOutOfRange):
            factor(probability)


@pytest.mark.parametrize("nu", [0.0, 0.5, -1.0, math.nan])
def test_freedom_is_at_least_one(nu: float) -> None:
    with pytest.raises(TooLittleFreedom):
        student_factor(0.95, nu)


def test_parts_of_nothing_have_no_freedom() -> None:
    with pytest.raises(NoSpread):
        effective_freedom([Part(0.0, False, 5)])
