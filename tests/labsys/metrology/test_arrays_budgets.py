"""Budgets by arrays: the same as one by one, as `uncertainties`, as a published table; refusals name the point."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
import uncertainties
from hypothesis import example, given, settings
from hypothesis import strategies as st

from labsys.metrology.arrays import ComponentArrays, ShapesDiffer, combine_many
from labsys.metrology.arrays.budgets import SumTooLarge
from labsys.metrology.arrays.coverage import SHAPES
from labsys.metrology.arrays.students import StudentFactors
from labsys.metrology.budget import NothingToCombine, combine
from labsys.metrology.components import BadComponent, Component, Distribution
from labsys.metrology.coverage import (
    FreedomRule,
    NoSpread,
    ProbabilityOutOfRange,
    Shape,
    TooLittleFreedom,
    student_factor,
)
from tests.labsys.metrology.published import case

SIZES = st.sampled_from([0.0, 0.0003, 0.001, 0.00333, 0.1, 0.3, 1.0, 2.0]) | st.floats(1e-6, 1.0)
PLAIN = [Distribution.RECTANGULAR, Distribution.NORMAL, Distribution.RECTANGULAR, Distribution.TRIANGULAR]
COMPONENTS = st.builds(
    Component,
    name=st.just("one"),
    size=SIZES,
    distribution=st.sampled_from(PLAIN),
    sensitivity=st.sampled_from([-3.0, -1.0, 0.0, 1.0, 2.5]) | st.floats(0.001, 2),
    nu=st.sampled_from([1.0, 2.0, 9.0, 40.0, math.inf, math.inf, math.inf]) | st.floats(1, 1e6),
    group=st.sampled_from([None, None, "A", "B"]),
    divisor=st.sampled_from([None, 2.0, 1.0]),
)
BUDGETS = st.lists(COMPONENTS, min_size=1, max_size=6).filter(
    lambda found: any(one.contribution_mm > 0 for one in found)
)
RECTANGLE, NORMAL = Distribution.RECTANGULAR, Distribution.NORMAL


def hold(budgets: Sequence[Sequence[Component]], probability: float, rule: FreedomRule) -> None:
    """Compare arrays, in blocks of three, with one by one."""
    many = combine_many(ComponentArrays.of(budgets), probability=probability, freedom_rule=rule, block=3)
    for i, components in enumerate(budgets):
        one = combine(components, probability=probability, freedom_rule=rule)
        assert SHAPES[many.shapes[i]] is one.shape
        assert many.nu_used[i] == pytest.approx(one.nu_used, rel=2e-6)
        if rule is not FreedomRule.KEEP and one.nu_used < 1e6:
            assert many.nu_used[i] == one.nu_used
        assert [many.u_mm[i], many.k[i], many.U_mm[i], many.nu_eff[i], many.betas[i]] == pytest.approx(
            [one.u_mm, one.k, one.U_mm, one.nu_eff, one.beta or 0.0], rel=1e-12, abs=1e-12 * one.u_mm
        )
        shares = [row.share for row in one.rows]
        assert many.shares[i, : len(shares)] == pytest.approx(shares, rel=1e-12, abs=1e-15)
        assert not many.shares[i, len(shares) :].any()
        assert math.fsum(many.shares[i]) == pytest.approx(1)


@settings(max_examples=120, deadline=None)
@given(
    st.lists(BUDGETS, min_size=1, max_size=7),
    st.sampled_from([0.9545, 0.95, 0.5, 0.99]),
    st.sampled_from([FreedomRule.TRUNCATE, FreedomRule.NEAREST]),
)
def test_arrays_are_one_by_one(budgets: list[list[Component]], probability: float, rule: FreedomRule) -> None:
    hold(budgets, probability, rule)


def test_broken_degrees_of_freedom_may_be_kept() -> None:
    studied = [
        Component("s", 0.001, NORMAL, nu=5.5),
        Component("r", 0.001),
        Component("g", 0.002, NORMAL, nu=3),
    ]
    hold([studied, studied[1:]], 0.9545, FreedomRule.KEEP)


@settings(max_examples=60)
@given(st.integers(-8, 8), st.sampled_from([1, 2]), st.floats(1e-6, 10))
def test_within_a_few_last_places_of_an_edge_arrays_still_choose_alike(
    ulps: int, count: int, size: float
) -> None:
    # The rest is 0.3 of the dominant part, give or take a few units of the last place.
    lead = [Component(f"{n}", size * math.sqrt(3)) for n in range(count)]
    share = 0.3 * math.sqrt(count) * size
    rest = share + ulps * math.ulp(share)
    hold([[*lead, Component("rest", rest, NORMAL)]], 0.9545, FreedomRule.TRUNCATE)
    hold(
        [[*lead, Component("a", rest * 0.6, NORMAL), Component("b", rest * 0.8, NORMAL)]],
        0.95,
        FreedomRule.NEAREST,
    )


@given(st.integers(-4, 4), st.booleans())
def test_a_second_rectangle_as_large_as_what_is_none(ulps: int, is_first: bool) -> None:
    # Alone the largest leaves more than 0.3; with the tied one beside it less. Which of the tied counts is their order.
    tied = [
        Component("rectangle", 0.25 * math.sqrt(3)),
        Component("normal", 0.25 + ulps * math.ulp(0.25), NORMAL),
    ]
    hold(
        [[Component("largest", math.sqrt(3)), *(tied if is_first else tied[::-1])]],
        0.9545,
        FreedomRule.TRUNCATE,
    )


def test_a_second_rectangle_smaller_than_what_is_none_makes_no_trapezoid() -> None:
    three = [
        Component("a", math.sqrt(3)),
        Component("b", 0.29 * math.sqrt(3)),
        Component("c", 0.2901, NORMAL),
    ]
    hold([three, three[::-1]], 0.9545, FreedomRule.TRUNCATE)
    assert SHAPES[combine_many(ComponentArrays.of([three])).shapes[0]] is Shape.NORMAL_OR_T


def test_degrees_of_freedom_that_come_out_whole() -> None:
    # Four equal parts of ν 10 have exactly 40 together, which sums of floats make 39.999999999999996.
    four = [Component(f"{n}", 0.1 * 3**0.5, NORMAL, nu=10) for n in range(4)]
    found = combine_many(ComponentArrays.of([four, four]))
    assert found.nu_used.tolist() == [40, 40]


@example([("A", -1.0), ("A", -1.0), ("A", 1.0)])
@given(st.lists(st.tuples(st.sampled_from("AB"), st.sampled_from([-1.0, -3.0, 1.0])), min_size=1, max_size=5))
def test_against_uncertainties_with_one_variable_for_a_group_and_sign(
    members: list[tuple[str, float]],
) -> None:
    components = [
        Component(f"{n}", 0.001 * (n + 1), NORMAL, sensitivity=c, group=group)
        for n, (group, c) in enumerate(members)
    ]
    shared: dict[tuple[str, bool], uncertainties.UFloat] = {}
    total: object = 0
    for n, (group, c) in enumerate(members):
        unit = shared.setdefault((group, c < 0), uncertainties.ufloat(0, 1))
        total = total + c * 0.001 * (n + 1) * unit
    found = combine_many(ComponentArrays.of([components]))
    assert found.u_mm[0] == pytest.approx(uncertainties.std_dev(total), rel=1e-12)


def test_worked_budget_of_a_digital_caliper_by_arrays() -> None:
    rows = case("caliper-budget")["expected"]
    contributions = np.array([row["u_um"] for row in rows]) / 1000
    count = contributions.shape[1]
    ones = np.ones(count)
    plain = ComponentArrays(contributions, ones, ones, np.full(count, np.inf), np.zeros(count, bool))
    # The print's own contributions have three decimals of a µm; what comes of them has two.
    assert combine_many(plain).u_mm * 1000 == pytest.approx([row["u"] for row in rows], abs=0.005)


def test_columns_that_are_the_same_for_every_point() -> None:
    sizes = np.array([[0.001, 0.002, 0.003], [0.004, 0.0, 0.001]])
    columns = ComponentArrays(
        sizes,
        np.array([2.0, math.sqrt(3), 1.0]),
        np.array([-1.0, 1.0, -3.0]),
        np.array([math.inf, math.inf, 9.0]),
        np.array([False, True, False]),
        np.array([4, -1, 4]),
    )
    for i, row in enumerate(sizes):
        one = combine(
            [
                Component("block", row[0], NORMAL, sensitivity=-1, group="4", divisor=2),
                Component("step", row[1]),
                Component("wire", row[2], NORMAL, sensitivity=-3, nu=9, group="4"),
            ]
        )
        assert combine_many(columns).U_mm[i] == pytest.approx(one.U_mm, rel=1e-13)


def test_a_constant_share_of_a_thousand_points_is_the_same_in_any_block() -> None:
    sizes = np.linspace(0.001, 0.01, 8000).reshape(1000, 8)
    many = ComponentArrays(sizes, np.full(8, 2.0), np.ones(8), np.full(8, 12.0), np.zeros(8, bool))
    whole, pieces = combine_many(many), combine_many(many, block=77)
    for name in ("u_mm", "nu_eff", "nu_used", "k", "U_mm", "shapes", "betas", "shares"):
        assert (getattr(whole, name) == getattr(pieces, name)).all()


@given(
    st.lists(st.floats(1, 1e7) | st.integers(1, 6000).map(float) | st.just(math.inf), min_size=1, max_size=9)
)
def test_student_factors_of_many(nu: list[float]) -> None:
    for probability in (0.5, 0.9545, 0.999):
        found = StudentFactors(probability).of(np.array(nu))
        assert found == pytest.approx([student_factor(probability, one) for one in nu], rel=1e-14)


def arrays(**changes: object) -> ComponentArrays:
    usual: dict[str, object] = {
        "sizes": np.full((3, 2), 0.001),
        "divisors": np.ones(2),
        "sensitivities": np.ones(2),
        "nu": np.full(2, np.inf),
        "are_rectangular": np.zeros(2, bool),
    }
    return ComponentArrays(**{**usual, **changes})  # type: ignore[arg-type]


def second_point(value: float, usual: float) -> np.ndarray:
    found = np.full((3, 2), usual)
    found[1, 1] = value
    return found


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("sizes", math.nan, "a size"),
        ("sizes", math.inf, "a size"),
        ("sizes", -0.001, "a size"),
        ("sensitivities", math.nan, "a finite sensitivity"),
        ("sensitivities", -math.inf, "a finite sensitivity"),
        ("divisors", 0.0, "a divisor"),
        ("divisors", math.inf, "a divisor"),
        ("divisors", math.nan, "a divisor"),
        ("nu", 0.5, "degree of freedom"),
        ("nu", math.nan, "degree of freedom"),
    ],
)
def test_a_component_that_cannot_be_is_named(name: str, value: float, expected: str) -> None:
    with pytest.raises(BadComponent, match=r"1 of point 1.*" + expected):
        combine_many(arrays(**{name: second_point(value, 1.0)}), block=2)


def test_what_has_no_sum_is_refused_by_name() -> None:
    sizes = np.full((3, 2), 0.001)
    sizes[2] = 0
    with pytest.raises(NoSpread, match="point 2"):
        combine_many(arrays(sizes=sizes), block=2)
    for huge in (1e200, 1e308):
        with pytest.raises(SumTooLarge, match="point 2"):
            combine_many(
                arrays(sizes=np.where(sizes == 0, huge, sizes), sensitivities=np.full(2, 3.0)), block=2
            )
    for empty in (np.zeros((0, 2)), np.zeros((3, 0))):
        with pytest.raises(NothingToCombine):
            combine_many(arrays(sizes=empty, **_columns(empty.shape[1])))
    with pytest.raises(ProbabilityOutOfRange):
        combine_many(arrays(), probability=1.0)


def _columns(count: int) -> dict[str, np.ndarray]:
    names = ("divisors", "sensitivities", "nu")
    return {**{name: np.ones(count) for name in names}, "are_rectangular": np.zeros(count, bool)}


def test_arrays_that_do_not_belong_together() -> None:
    with pytest.raises(ShapesDiffer, match="divisors"):
        arrays(divisors=np.ones(3))
    with pytest.raises(ShapesDiffer, match="sizes"):
        arrays(sizes=np.ones(3))


def test_a_size_of_zero_neither_correlates_nor_limits_the_freedom() -> None:
    zero = Component("none", 0.0, NORMAL, nu=1, group="A")
    two = [Component("a", 0.01, group="A"), zero, Component("b", 0.001, NORMAL)]
    hold([two, two[::-1]], 0.9545, FreedomRule.TRUNCATE)
    assert SHAPES[combine_many(ComponentArrays.of([two])).shapes[0]] is Shape.RECTANGULAR


def test_little_freedom_stays_refused() -> None:
    with pytest.raises(TooLittleFreedom):
        student_factor(0.95, 0.5)
