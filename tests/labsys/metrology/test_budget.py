"""Budgets: the published end gauge and vernier caliper, correlation, shares, storing."""

from __future__ import annotations

import json
import math
from typing import Any

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from uncertainties import UFloat, ufloat

from labsys.metrology.budget import Budget, BudgetUnreadable, NothingToCombine, combine
from labsys.metrology.components import BadComponent, Component, Distribution
from labsys.metrology.coverage import FreedomRule, NoSpread, Shape, student_factor
from tests.labsys.metrology.published import entry, printed, recomputed

NORMAL = Distribution.NORMAL
NM = 1e-6
# JCGM 100:2008, H.1: end gauge of 50 mm by comparison; printed u for the comparator, limits for the rest.
END_GAUGE = (
    Component("length of the standard", 75 * NM, NORMAL, divisor=3, nu=18),
    Component("mean of the comparisons", 5.8 * NM, NORMAL, nu=24),
    Component("comparator, random", 3.9 * NM, NORMAL, nu=5),
    Component("comparator, systematic", 6.7 * NM, NORMAL, nu=8),
    Component("difference of expansion", 1e-6, size_unit="1/K", sensitivity=-50.000623 * -0.1, nu=50),
    Component("difference of temperature", 0.05, size_unit="K", sensitivity=-50.000623 * 11.5e-6, nu=2),
)


def _printed(quantity: str) -> tuple[float, float]:
    found = entry("gum-h1", quantity)
    return float(found["printed"]), float(found["tol"])


def test_end_gauge_of_gum_h1() -> None:
    budget = combine(END_GAUGE, probability=0.99)
    value, tolerance = _printed("u_c")
    assert budget.u_mm / NM == pytest.approx(value, abs=tolerance)
    assert budget.u_mm / NM == pytest.approx(recomputed("gum-h1", "u_c"), rel=1e-6)
    # Printed 16.7, from rounded figures; unrounded 16.75.
    assert budget.nu_eff == pytest.approx(recomputed("gum-h1", "nu_eff before truncation"), rel=1e-6)
    assert budget.nu_used == printed("gum-h1", "nu_eff truncated")
    assert budget.k == pytest.approx(printed("gum-h1", "t99(16)"), abs=0.005)
    # The print multiplies the rounded 32 nm: 93; unrounded it is 92.5.
    assert budget.U_mm / NM == pytest.approx(printed("gum-h1", "U99"), abs=1)
    assert budget.shape is Shape.NORMAL_OR_T


def test_end_gauge_contributions() -> None:
    rows = {row.component.name: row.contribution_mm / NM for row in combine(END_GAUGE).rows}
    for name, quantity in (
        ("difference of expansion", "|c|u(dalpha)"),
        ("difference of temperature", "|c|u(dtheta)"),
    ):
        value, tolerance = _printed(quantity)
        assert rows[name] == pytest.approx(value, abs=tolerance)
    comparator = combine(END_GAUGE[1:4])
    value, tolerance = _printed("u(d)")
    assert comparator.u_mm / NM == pytest.approx(value, abs=tolerance)
    # The print takes the rounded 9.7 nm to the fourth power: 25.6; unrounded it is 25.4.
    value, tolerance = _printed("nu(d)")
    assert comparator.nu_eff * (9.7 / (comparator.u_mm / NM)) ** 4 == pytest.approx(value, abs=tolerance)
    assert comparator.nu_eff == pytest.approx(25.447, abs=0.001)


def test_end_gauge_with_the_second_order() -> None:
    # H.1.7: products of two inputs of zero mean vanish at first order.
    u_theta = math.sqrt(0.2**2 + 0.5**2 / 2)
    terms = (
        Component("δα·θ", 1e-6 / math.sqrt(3) * u_theta, Distribution.PRODUCT, sensitivity=50.000623),
        Component(
            "α·δθ", 2e-6 / math.sqrt(3) * 0.05 / math.sqrt(3), Distribution.PRODUCT, sensitivity=50.000623
        ),
    )
    for term, quantity in zip(
        terms,
        ("second-order term lS*u(dalpha)*u(theta)", "second-order term lS*u(alphaS)*u(dtheta)"),
        strict=True,
    ):
        value, tolerance = _printed(quantity)
        assert term.contribution_mm / NM == pytest.approx(value, abs=tolerance)
    value, tolerance = _printed("u_c with second order")
    assert combine((*END_GAUGE, *terms)).u_mm / NM == pytest.approx(value, abs=tolerance)


def test_end_gauge_agrees_with_two_general_libraries() -> None:
    budget = combine(END_GAUGE, freedom_rule=FreedomRule.KEEP)
    inputs = [GTC.ureal(0, one.standard_uncertainty, one.nu) * one.sensitivity for one in END_GAUGE]
    total = sum(inputs[1:], inputs[0])
    assert budget.u_mm == pytest.approx(total.u, rel=1e-12)
    assert budget.nu_eff == pytest.approx(total.df, rel=1e-9)
    floats = [ufloat(0, one.standard_uncertainty) * one.sensitivity for one in END_GAUGE]
    assert budget.u_mm == pytest.approx(sum(floats[1:], floats[0]).std_dev, rel=1e-12)


def test_vernier_caliper_of_ea_4_02_s10() -> None:
    budget = combine(
        (
            Component("reference block", 0.0008),
            Component("difference of temperature", 2.0, size_unit="K", sensitivity=-150 * 11.5e-6),
            Component("resolution", 0.025),
            Component("contact, parallelism, Abbe", 0.05),
        ),
        probability=0.95,
    )
    # The recomputed figure takes the printed 1.7 µm/K for 150 mm × 11.5e-6/K = 1.725 µm/K: 2 nm less.
    assert budget.u_mm * 1000 == pytest.approx(recomputed("ea-s10", "u(EX)"), abs=0.002)
    # The print says 33, from contributions that were rounded before they were added.
    assert abs(budget.u_mm * 1000 - printed("ea-s10", "u(EX)")) < 0.7
    assert budget.shape is Shape.TRAPEZOIDAL
    assert budget.beta == pytest.approx(recomputed("ea-s10", "edge parameter beta=|a1-a2|/(a1+a2)"))
    assert budget.k == pytest.approx(recomputed("ea-s10", "k(beta,0.95)"), rel=1e-9)
    assert budget.U_mm * 1000 == pytest.approx(59.3, abs=0.05)
    assert budget.U_mm == pytest.approx(printed("ea-s10", "U"), abs=0.005)


def test_product_of_three_quantities_of_gum_g4() -> None:
    budget = combine(
        [
            Component("first", 0.25, NORMAL, nu=9),
            Component("second", 0.57, NORMAL, nu=4),
            Component("third", 0.82, NORMAL, nu=14),
        ],
        probability=0.95,
        freedom_rule=FreedomRule.NEAREST,
    )
    assert budget.u_mm == pytest.approx(printed("ws-g4", "relative u_c"), abs=0.005)
    assert budget.nu_eff == pytest.approx(printed("ws-g4", "nu_eff"), abs=0.05)
    assert budget.k == pytest.approx(printed("ws-g4", "t95(19)"), abs=0.005)
    assert budget.U_mm == pytest.approx(printed("ws-g4", "U95 relative"), abs=0.05)


def test_equal_components_add_their_freedom() -> None:
    budget = combine([Component(f"part {n}", 1.0, NORMAL, nu=10) for n in range(4)])
    assert budget.nu_used == printed("ws-g4", "four equal components, 10 dof each")


SHAPES = st.sampled_from([one for one in Distribution if one is not Distribution.TRAPEZOIDAL]).map(
    lambda shape: (shape, None)
) | st.tuples(st.just(Distribution.TRAPEZOIDAL), st.floats(0, 1))


def _component(shape: tuple[Distribution, float | None], **facts: Any) -> Component:
    return Component(distribution=shape[0], beta=shape[1], **facts)


COMPONENTS = st.builds(
    _component,
    SHAPES,
    name=st.text(max_size=5),
    size=st.floats(1e-6, 1),
    sensitivity=st.floats(-10, 10).filter(lambda c: abs(c) > 1e-3),
    nu=st.floats(1, 200) | st.just(math.inf),
    group=st.none() | st.sampled_from(["certificate A", "certificate B"]),
)


@given(st.lists(COMPONENTS, min_size=1, max_size=10))
def test_budgets_hang_together(components: list[Component]) -> None:
    budget = combine(components)
    assert budget.U_mm == budget.k * budget.u_mm
    assert math.fsum(row.share for row in budget.rows) == pytest.approx(1)
    assert [row.component for row in budget.rows] == components
    largest = max(row.contribution_mm for row in budget.rows)
    assert (
        largest * (1 - 1e-12)
        <= budget.u_mm
        <= math.fsum(row.contribution_mm for row in budget.rows) * (1 + 1e-12)
    )
    assert Budget.from_json(json.loads(json.dumps(budget.to_json()))) == budget


@given(st.lists(COMPONENTS, min_size=1, max_size=8))
def test_correlation_agrees_with_a_general_library(components: list[Component]) -> None:
    """Rebuild the model with one shared input per group and sign, and let the library propagate it."""
    shared: dict[tuple[object, ...], UFloat] = {}
    total: UFloat | int = 0
    for place, one in enumerate(components):
        key = (place,) if one.group is None else (one.group, one.sensitivity < 0)
        unit = shared.setdefault(key, ufloat(0, 1))
        total += unit * (one.standard_uncertainty * one.sensitivity)
    assert isinstance(total, UFloat)
    assert combine(components).u_mm == pytest.approx(total.std_dev, rel=1e-9)


@pytest.mark.parametrize("beta", [0.0, 0.3, 1.0])
def test_a_trapezoid_has_the_spread_a_statistics_library_gives(beta: float) -> None:
    edge = (1 - beta) / 2
    oracle = stats.trapezoid(edge, 1 - edge, loc=-0.01, scale=0.02)
    found = Component("jaws", 0.01, Distribution.TRAPEZOIDAL, beta=beta)
    assert found.standard_uncertainty == pytest.approx(oracle.std(), rel=1e-9)


def test_a_swing_has_the_spread_a_statistics_library_gives() -> None:
    oracle = stats.arcsine(loc=-0.5, scale=1.0)
    found = Component("room", 0.5, Distribution.ARCSINE).standard_uncertainty
    assert found == pytest.approx(oracle.std(), rel=1e-9)
    assert found == pytest.approx(0.35, abs=0.005)  # JCGM 100:2008, H.1.3.4: cyclic part of θ


def test_students_size_is_its_scale_and_the_doubt_is_in_its_freedom() -> None:
    few = Component("mean", 5.8, Distribution.STUDENT, nu=24)
    assert (few.standard_uncertainty, combine([few]).nu_eff) == (5.8, 24)


@pytest.mark.parametrize(
    ("distribution", "beta"),
    [
        (Distribution.TRAPEZOIDAL, None),
        (Distribution.TRAPEZOIDAL, 1.1),
        (Distribution.TRAPEZOIDAL, -0.1),
        (Distribution.TRAPEZOIDAL, math.nan),
        (Distribution.RECTANGULAR, 0.5),
    ],
)
def test_only_a_trapezoid_has_a_top_and_it_is_no_wider_than_its_base(
    distribution: Distribution, beta: float | None
) -> None:
    with pytest.raises(BadComponent, match="trapezoid"):
        Component("jaws", 0.01, distribution, beta=beta)


def test_a_row_stored_before_there_were_trapezoids_still_reads() -> None:
    stored = combine(END_GAUGE).to_json()
    assert set(stored["rows"][0]) == {
        *("name", "size", "distribution", "size_unit", "sensitivity", "nu", "source", "group", "divisor"),
        *("contribution_mm", "share"),
    }
    assert Budget.from_json(stored) == combine(END_GAUGE)
    trapezoid = combine([Component("jaws", 0.01, Distribution.TRAPEZOIDAL, beta=0.5)])
    assert trapezoid.to_json()["rows"][0]["beta"] == "0.5"
    assert Budget.from_json(json.loads(json.dumps(trapezoid.to_json()))) == trapezoid


def test_one_certificate_counts_once_where_the_sensitivities_agree() -> None:
    def block(u: float, sensitivity: float = -1.0, group: str | None = "C-1") -> Component:
        return Component("block", u, NORMAL, sensitivity=sensitivity, group=group, nu=20)

    together = combine([block(0.0003), block(0.0004)])
    assert together.u_mm == pytest.approx(0.0007)
    assert together.nu_eff == 20
    few = Component("block", 0.0001, NORMAL, sensitivity=-1.0, group="C-1", nu=5)
    assert combine([block(0.0003), few]).nu_eff == 5
    assert combine([block(0.0003), block(0.0004, 1.0)]).u_mm == pytest.approx(0.0005)
    assert combine([block(0.0003), block(0.0004, group="C-2")]).u_mm == pytest.approx(0.0005)


def test_rectangles_of_one_group_are_one_wider_rectangle() -> None:
    budget = combine(
        [Component("a", 0.3, group="limit"), Component("b", 0.4, group="limit")], probability=0.95
    )
    assert budget.shape is Shape.RECTANGULAR
    assert budget.U_mm == pytest.approx(0.7 * 0.95)


def test_a_component_of_zero_changes_nothing() -> None:
    alone = combine([Component("step", 0.005)])
    with_zero = combine([Component("step", 0.005), Component("none", 0.0, NORMAL, nu=1)])
    assert (with_zero.U_mm, with_zero.shape, with_zero.nu_eff) == (alone.U_mm, alone.shape, math.inf)


def test_infinite_freedom_everywhere_is_the_normal_factor() -> None:
    budget = combine([Component("a", 0.001, NORMAL), Component("b", 0.001, NORMAL)])
    assert (budget.nu_eff, budget.k) == (math.inf, student_factor(0.9545, math.inf))
    assert budget.k == pytest.approx(2, abs=1e-5)


def test_empty_and_zero_budgets_are_refused_by_name() -> None:
    with pytest.raises(NothingToCombine, match="for the depth"):
        combine([], where="the depth")
    with pytest.raises(NoSpread):
        combine([Component("none", 0.0), Component("unmoved", 1.0, sensitivity=0.0)])


@pytest.mark.parametrize(
    "fault",
    [
        {"size": math.nan},
        {"size": -1.0},
        {"size": math.inf},
        {"size": 1.0, "sensitivity": math.nan},
        {"size": 1.0, "nu": 0.5},
        {"size": 1.0, "nu": math.nan},
        {"size": 1.0, "divisor": 0.0},
        {"size": 1.0, "divisor": math.inf},
    ],
)
def test_components_that_cannot_be_combined(fault: dict[str, float]) -> None:
    with pytest.raises(BadComponent, match="jaws"):
        Component("jaws", **fault)  # type: ignore[arg-type]


@pytest.mark.parametrize("place", ["rows", "u_mm", "shape", "freedom_rule"])
def test_a_stored_budget_with_a_hole_is_unreadable(place: str) -> None:
    stored = combine(END_GAUGE).to_json()
    stored.pop(place)
    with pytest.raises(BudgetUnreadable, match=place):
        Budget.from_json(stored)
    with pytest.raises(BudgetUnreadable):
        Budget.from_json({**combine(END_GAUGE).to_json(), place: "nonsense"})
