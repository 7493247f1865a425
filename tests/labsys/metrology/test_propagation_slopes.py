"""Derivatives by rule against derivatives by differences, order by order."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labsys.metrology.propagation import Factor, Function, Model, Term
from labsys.metrology.propagation.jets import jet_of, multiply

NAMES = ("a", "b", "c")
FACTORS = st.builds(
    Factor,
    st.sampled_from(NAMES),
    st.sampled_from([1.0, 2.0, 3.0, -1.0, 0.5, -1.5]),
    st.sampled_from(Function),
)
TERMS = st.builds(
    Term, st.floats(0.1, 5) | st.floats(-5, -0.1), st.lists(FACTORS, min_size=1, max_size=3).map(tuple)
)
MODELS = st.lists(TERMS, min_size=1, max_size=3).map(lambda terms: Model(tuple(terms)))
# Inside (0, 1), away from zeros, poles and the ends of arcsin.
PLACES = st.fixed_dictionaries({name: st.floats(0.3, 0.7) for name in NAMES})
STEP = 1e-5


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(Function),
    st.sampled_from([1.0, 2.0, 3.0, 4.0, -1.0, -2.0, 0.5, -0.5, 1.7]),
    st.floats(0.2, 0.8),
)
def test_each_derivative_of_a_factor_is_the_slope_of_the_one_before(
    function: Function, power: float, at: float
) -> None:
    if function is Function.LN and not power.is_integer():
        power = 2.0  # ln is negative below 1
    below, here, above = (jet_of(function, power, at + shift) for shift in (-STEP, 0, STEP))
    for order in range(3):
        numerical = (above[order] - below[order]) / (2 * STEP)
        assert here[order + 1] == pytest.approx(numerical, rel=1e-4, abs=1e-4)


@pytest.mark.parametrize("power", [1.0, 2.0, 3.0, 5.0])
def test_whole_powers_have_all_derivatives_at_zero(power: float) -> None:
    value, first, second, third = jet_of(Function.IDENTITY, power, 0.0)
    assert (value, first) == (0, power if power == 1 else 0)
    assert (second, third) == (2 if power == 2 else 0, 6 if power == 3 else 0)


def test_one_input_in_two_factors_is_multiplied_out() -> None:
    product = multiply(jet_of(Function.IDENTITY, 2, 1.3), jet_of(Function.IDENTITY, 3, 1.3))
    assert product == pytest.approx(jet_of(Function.IDENTITY, 5, 1.3), rel=1e-12)


@settings(max_examples=80, deadline=None)
@given(MODELS, PLACES)
def test_each_derivative_of_a_model_is_the_slope_of_the_one_before(
    model: Model, at: dict[str, float]
) -> None:
    if any(
        factor.function is Function.LN and not factor.power.is_integer()
        for term in model.terms
        for factor in term.factors
    ):
        model = Model((Term(1.0, (Factor("a", -1.0), Factor("b", 2.0, Function.LN))),))
    here = model.slopes(at)
    for by in model.inputs:
        below, above = (model.slopes({**at, by: at[by] + shift}) for shift in (-STEP, STEP))
        noise = 1e-6 * max(1.0, abs(here.value), *(abs(one) for one in here.third.values()))
        assert here.first[by] == pytest.approx((above.value - below.value) / (2 * STEP), rel=1e-4, abs=noise)
        for other in model.inputs:
            pair = (
                (by, other) if (by, other) in here.second or (other, by) not in here.second else (other, by)
            )
            numerical = (above.first[other] - below.first[other]) / (2 * STEP)
            assert here.second.get(pair, 0.0) == pytest.approx(numerical, rel=1e-4, abs=noise)
            twice = (above.second.get((other, other), 0.0) - below.second.get((other, other), 0.0)) / (
                2 * STEP
            )
            assert here.third.get((by, other), 0.0) == pytest.approx(twice, rel=1e-4, abs=noise)


def test_the_cosine_bends_where_it_does_not_slope() -> None:
    model = Model((Term(100.0, (Factor("tilt", function=Function.COS),)),))
    slopes = model.slopes({"tilt": 0.0})
    assert (slopes.value, slopes.first["tilt"], slopes.second["tilt", "tilt"]) == (100, 0, -100)
    assert math.isclose(slopes.third["tilt", "tilt"], 0.0, abs_tol=1e-12)
