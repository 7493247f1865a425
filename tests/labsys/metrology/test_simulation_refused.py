"""Propagation of distributions: what is refused by name."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from labsys.metrology.coverage import NoSpread, ProbabilityOutOfRange
from labsys.metrology.simulation import (
    BadDensity,
    BadDigits,
    Between,
    Correlation,
    FirstOrder,
    Fixed,
    Form,
    ImpossibleCorrelation,
    Input,
    InputsUnclear,
    MeasurementModel,
    ModelFailed,
    Normal,
    ProbabilitiesDiffer,
    Student,
    TooFewValues,
    TooLittleFreedomToDraw,
    TrialsOutOfRange,
    Wanted,
    compare,
    interval_of,
    numerical_tolerance,
    simulate,
    simulate_adaptively,
)
from tests.labsys.metrology.densities import rng, summed, total

NAN, INF = math.nan, math.inf


@pytest.mark.parametrize(
    "make",
    [
        lambda: Normal(NAN, 1),
        lambda: Normal(0, -1),
        lambda: Normal(0, INF),
        lambda: Fixed(INF),
        lambda: Student(INF, 1, 5),
        lambda: Student(0, NAN, 5),
        lambda: Between(2, 1),
        lambda: Between(NAN, 1),
        lambda: Between(-1.7e308, 1.7e308),
        lambda: Between(0, 1, doubt=0.6),
        lambda: Between(0, 1, doubt=-0.1),
        lambda: Between(0, 1, beta=0.5),
        lambda: Between(0, 1, Form.TRAPEZOIDAL),
        lambda: Between(0, 1, Form.TRAPEZOIDAL, beta=1.1),
    ],
)
def test_densities_that_are_none_are_refused(make: Any) -> None:
    with pytest.raises(BadDensity):
        make()


@pytest.mark.parametrize("nu", [2.0, 1.0, 0.0, NAN])
def test_students_density_needs_a_variance(nu: float) -> None:
    with pytest.raises(TooLittleFreedomToDraw, match="at least four readings"):
        Student(0, 1, nu)


@pytest.mark.parametrize(
    ("ties", "words"),
    [
        ((Correlation("a", "a", 0.5),), "two different inputs"),
        ((Correlation("a", "z", 0.5),), "normal inputs of the model"),
        ((Correlation("a", "u", 0.5),), "normal inputs of the model"),
        ((Correlation("a", "b", 1.5),), "from −1 to 1"),
        ((Correlation("a", "b", NAN),), "from −1 to 1"),
        ((Correlation("a", "b", 0.5), Correlation("b", "a", 0.5)), "each pair once"),
        ((Correlation("a", "b", 0.9), Correlation("b", "c", 0.9), Correlation("a", "c", -0.9)), "contradict"),
    ],
)
def test_correlations_that_no_inputs_can_have_are_refused(ties: Any, words: str) -> None:
    inputs = (*(Input(name, Normal(0, 1)) for name in "abc"), Input("u", Between(0, 1)))
    with pytest.raises(ImpossibleCorrelation, match=words):
        simulate(MeasurementModel(total, inputs, ties), rng=rng(), trials=5000)


def test_models_without_clear_inputs_are_refused() -> None:
    with pytest.raises(InputsUnclear, match="found none"):
        MeasurementModel(total, ())
    with pytest.raises(InputsUnclear, match="“b” twice"):
        MeasurementModel(total, tuple(Input(name, Fixed(1)) for name in ("a", "b", "b")))


@pytest.mark.parametrize(
    ("function", "words"),
    [
        (lambda drawn: np.log(drawn["x0"]), "not finite"),
        (lambda drawn: 1.0, r"shape \(\)"),
        (lambda drawn: drawn["x0"][:3], r"shape \(3,\)"),
        (lambda drawn: drawn["x0"] * 1e308, "too large to add up"),
    ],
)
def test_models_that_give_no_numbers_are_refused(function: Any, words: str) -> None:
    model = MeasurementModel(function, summed(Between(-1.5, 1.5)).inputs)
    with pytest.raises(ModelFailed, match=words):
        simulate(model, rng=rng(), trials=5000)


def test_a_result_without_spread_is_refused() -> None:
    for run in (simulate, simulate_adaptively):
        with pytest.raises(NoSpread):
            run(summed(Fixed(5.0), Normal(1.0, 0.0)), rng=rng())


def test_trials_and_probabilities_have_their_range() -> None:
    model = summed(Normal(0, 1))
    for trials in (0, -5, 1999, 10_000_001):
        with pytest.raises(TrialsOutOfRange, match="2000 to 10000000"):
            simulate(model, rng=rng(), trials=trials, wanted=Wanted(0.95))
    with pytest.raises(TrialsOutOfRange):
        simulate_adaptively(model, rng=rng(), most_trials=10_000)
    with pytest.raises(TrialsOutOfRange):
        simulate(model, rng=rng(), wanted=Wanted(0.999999))
    for probability in (0.0, 1.0, 95.0, NAN):
        with pytest.raises(ProbabilityOutOfRange):
            Wanted(probability)
    for count in (1, 10):
        with pytest.raises(TooFewValues):
            interval_of(np.arange(float(count)), Wanted(0.99))
    for digits, u in ((0, 1.0), (10, 1.0), (2, 0.0), (2, NAN), (2, INF)):
        with pytest.raises(BadDigits):
            numerical_tolerance(u, digits)
    with pytest.raises(ProbabilitiesDiffer, match="cover 0.99"):
        compare(FirstOrder(0, 1, 2.576, 0.99), simulate(model, rng=rng(), wanted=Wanted(0.95)))
