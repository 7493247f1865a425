"""Budgets simulated: the same components by many draws and by first order."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from labsys.metrology.budget import combine, exact
from labsys.metrology.components import Component, Distribution
from labsys.metrology.coverage import NoSpread, trapezoidal_factor
from labsys.metrology.simulation import (
    Comparison,
    MixedGroup,
    TooLittleFreedomToDraw,
    Wanted,
    compare_budget,
    model_of,
    simulate,
)
from tests.labsys.metrology.published import printed

NORMAL, RECTANGULAR = Distribution.NORMAL, Distribution.RECTANGULAR


def compared(*components: Component, p: float = 0.95, seed: int = 1, digits: int = 2) -> Comparison:
    rng = np.random.default_rng(seed)
    return compare_budget(combine(components, probability=p), rng=rng, digits=digits, most_trials=1_000_000)


def u_of(*components: Component) -> float:
    return simulate(model_of(components), rng=np.random.default_rng(2), trials=400_000).u


def test_a_normal_budget_is_validated() -> None:
    found = compared(Component("a", 0.003, NORMAL), Component("b", 0.004, NORMAL), digits=1)
    # 0.005 with one digit: δ = 0.0005, and both sides are 1.96·0.005.
    assert found.tolerance == pytest.approx(0.0005) and found.is_validated and found.is_settled
    assert abs(found.share) < 0.01


def test_a_rectangle_alone_and_two_rectangles_have_the_factor_of_their_shape() -> None:
    one = compared(Component("a", 0.01))
    assert pytest.approx(0.95 * 0.01) == one.first.U and one.is_validated
    two = compared(Component("a", 0.025), Component("b", 0.0125))
    k = trapezoidal_factor(0.95, 1 / 3)  # EA-4/02 S10: 1.83
    assert k == pytest.approx(printed("ea-s10", "k(beta,0.95)"), abs=0.005)
    assert two.simulated.interval.half_width / two.first.u == pytest.approx(k, rel=0.005)


def test_where_the_dominant_shape_hides_the_rest_the_difference_is_seen() -> None:
    # JCGM 101:2008, 9.2.4 (s1-9.2 C): one rectangle of ten times the others; treated as normal it is 19.9, not 17.0.
    # With ν = 1000 the rule of the dominant rectangle isn't taken, so first order stays with Student's factor.
    small = [Component(f"x{place}", math.sqrt(3)) for place in range(3)]
    found = compared(*small, Component("x4", 10 * math.sqrt(3), nu=1000))
    assert pytest.approx(19.9, abs=0.05) == found.first.U
    assert found.simulated.interval.half_width == pytest.approx(17.0, abs=0.1)
    assert found.is_far_off and found.share == pytest.approx(17.02 / 19.9 - 1, abs=0.005)
    assert not found.is_validated and found.is_settled


def test_one_group_and_sign_add_up_linearly_and_all_else_in_squares() -> None:
    group = [Component("a", 3.0, NORMAL, group="c"), Component("b", 4.0, NORMAL, group="c")]
    assert u_of(*group) == pytest.approx(7.0, rel=0.005)
    against = Component("b", 4.0, NORMAL, group="c", sensitivity=-1.0)
    assert u_of(group[0], against) == pytest.approx(5.0, rel=0.005)
    drift = [
        Component("a", 3.0, group="d"),
        Component("b", 4.0, group="d"),
        Component("c", 0.0, NORMAL, group="d"),
    ]
    assert u_of(*drift) == pytest.approx(7.0 / math.sqrt(3), rel=0.005)


def test_few_readings_are_drawn_by_students_density_with_u_as_its_scale() -> None:
    found = simulate(
        model_of([Component("s", 0.01, NORMAL, nu=9)]), rng=np.random.default_rng(3), wanted=Wanted(0.95)
    )
    assert found.interval.high == pytest.approx(0.01 * stats.t.ppf(0.975, 9), rel=0.006)
    assert found.u == pytest.approx(0.01 * math.sqrt(9 / 7), rel=0.005)
    named = Component("s", 0.01, Distribution.STUDENT, nu=9)
    again = simulate(model_of([named]), rng=np.random.default_rng(3), wanted=Wanted(0.95))
    assert again == found


def test_limits_of_finite_freedom_are_in_doubt_as_in_the_gauge_block_example() -> None:
    # JCGM 101:2008, 9.5: ν = 50 becomes d = 0.1e-6 on ± 1e-6, ν = 2 becomes d = 0.025 on ± 0.05.
    for half_width, nu, doubt in ((1e-6, 50, 0.1e-6), (0.05, 2, 0.025)):
        (found,) = model_of([Component("x", half_width, nu=nu)]).inputs
        assert getattr(found.density, "doubt") == pytest.approx(doubt)  # noqa: B009 - one of several densities
        assert found.density.standard_deviation == pytest.approx(math.sqrt(half_width**2 / 3 + doubt**2 / 9))


@settings(max_examples=6, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(0.5, 5),
            st.sampled_from(list(Distribution)),
            st.floats(-3, 3),
            st.floats(0, 1),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_the_standard_uncertainty_is_that_of_first_order(
    parts: list[tuple[float, Distribution, float, float]],
) -> None:
    components = [
        Component(
            f"{place}",
            size,
            distribution,
            sensitivity=c,
            beta=beta if distribution == "trapezoidal" else None,
        )
        for place, (size, distribution, c, beta) in enumerate(parts)
    ]
    first = math.sqrt(math.fsum(one.contribution_mm**2 for one in components))
    if first > 1e-3:  # a linear model: the law of propagation is exact (JCGM 100:2008, 5.1.2)
        assert u_of(*components) == pytest.approx(first, rel=5 / math.sqrt(8e5))


def test_what_cannot_be_simulated_is_refused_by_name() -> None:
    mixed = [Component("a", 1.0, NORMAL, group="c"), Component("b", 1.0, group="c")]
    with pytest.raises(MixedGroup, match="normal and rectangular in the group “c”"):
        compared(*mixed)
    with pytest.raises(TooLittleFreedomToDraw):
        compared(Component("a", 1.0, NORMAL, nu=2))
    with pytest.raises(NoSpread):
        compare_budget(exact([Component("a", 0.0)]), rng=np.random.default_rng(1))
