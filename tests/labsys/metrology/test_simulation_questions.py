"""Questions of the kind simulation: the published cases, trap 1, terms against first order, what is refused."""

from __future__ import annotations

import json
import math
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import labsys
from labsys.metrology.components import Component, Distribution
from labsys.metrology.propagation import BadModel, Factor, Function, Input, Model, Term, propagate
from labsys.metrology.questions.asking import QuestionRefused, answer_file, disagreements, parse_file
from labsys.metrology.questions.fields import QuestionUnreadable
from labsys.metrology.simulation import Wanted, simulate
from labsys.metrology.simulation.terms import model_of_terms
from tests.labsys.metrology.published import entry, printed, recomputed

KNOWN = Path(labsys.__file__).parent / "known_answers"
CASES = ("s1-9.2", "s1-9.3", "s1-9.5")


def known(case: str) -> Any:
    return parse_file((KNOWN / f"{case}.json").read_text(encoding="utf-8"))


def answered(question: dict[str, Any]) -> Any:
    whole: Any = answer_file({"format": 1, "questions": [question]})
    return whole["answers"][0]


def values(question: dict[str, Any]) -> Any:
    return answered(question)["values"]


@pytest.mark.parametrize("case", CASES)
def test_the_known_answers_are_found(case: str) -> None:
    assert disagreements(answer_file(known(case))) == []


PRINTS = {
    "s1-9.2": {"u": "A: u(y)", "half_width": "A: half interval", "comparison.U": "B: GUF half interval"},
    "s1-9.3": {
        "y": "estimate",
        "u": "u MCM",
        "low": "MCM shortest 95 % low",
        "high": "MCM shortest 95 % high",
        "comparison.u": "u GUF first order",
        "comparison.low": "GUF low",
        "comparison.high": "GUF high",
    },
    "s1-9.5": {
        "y": "estimate",
        "u": "u (MCM)",
        "low": "MCM shortest 99 % low",
        "high": "MCM shortest 99 % high",
        "comparison.u": "u (GUF)",
    },
}


@pytest.mark.parametrize("case", CASES)
def test_they_are_held_against_what_was_printed(case: str) -> None:
    first = known(case)["questions"][0]["expected"]
    shown = {one["quantity"]: one["printed"] for one in first if isinstance(one["printed"], str)}
    assert shown == {name: entry(case, quantity)["printed"] for name, quantity in PRINTS[case].items()}


def test_all_three_sums_are_asked() -> None:
    halves = [
        one["printed"]
        for question in known("s1-9.2")["questions"]
        for one in question["expected"]
        if one["quantity"] == "half_width"
    ]
    assert halves == [entry("s1-9.2", f"{one}: {HALF[one]}")["printed"] for one in "ABBC"]


HALF = {
    "A": "half interval",
    "B": "half interval (exact 2*sqrt3*(2-(3/5)^(1/4)))",
    "C": "MCM half interval",
}


def gauge_block(**changes: Any) -> dict[str, Any]:
    """Give the first question of s1-9.5 without what it expects."""
    question = dict(known("s1-9.5")["questions"][0])
    del question["expected"]
    return {**question, **changes}


def test_students_inputs_are_given_by_their_scale() -> None:
    # Trap 1: 36 nm (JCGM 101:2008, table 11); taking the scales for standard deviations gives 34.
    right = values(gauge_block(compare=False))
    assert right["u"] == pytest.approx(printed("s1-9.5", "u (MCM)"), abs=0.5)
    assert right["u"] == pytest.approx(recomputed("s1-9.5", "u (MCM)"), rel=4 / math.sqrt(2e6) * 1.5)
    shrunk = []
    for one in gauge_block()["inputs"]:
        nu = one.get("nu")
        is_student = nu is not None and "u" in one
        shrunk.append({**one, "u": float(one["u"]) * math.sqrt((nu - 2) / nu)} if is_student else one)
    wrong = values(gauge_block(compare=False, inputs=shrunk))
    assert wrong["u"] == pytest.approx(34.26, abs=0.1)  # note to the case
    assert (round(right["u"]), round(wrong["u"])) == (36, 34)


def test_an_answer_says_trials_blocks_what_settled_and_its_sources() -> None:
    question = gauge_block(compare=False, digits=1)
    del question["trials"]
    found = answered(question)
    said = found["values"]
    assert said["comparison"] is None and said["unit"] == "nm" and said["interval"] == "shortest"
    stability = said["stability"]
    assert said["trials"] == stability["batches"] * 10_000 and stability["tolerance"] == 5.0  # u = 40 nm
    assert stability["is_stable"] is True and stability["unsettled"] == []
    assert max(stability["twice_s"].values()) <= 5.0
    assert found["sources"][0] == "JCGM 101:2008, 7.9.4" and len(found["steps"]) == 3


def test_readings_and_correlations_are_read_as_for_a_budget() -> None:
    question = {
        "kind": "simulation",
        "seed": 5,
        "trials": 200_000,
        "probability": 0.95,
        "inputs": [
            {"name": "a", "readings": [1, 2, 3, 4, 5, 6, 7]},
            {"name": "b", "estimate": 2, "u": 3},
            {"name": "c", "estimate": 1, "u": 4, "sensitivity": 2},
        ],
        "correlations": [{"between": ["b", "c"], "r": -0.5}],
    }
    found = values(question)
    # Readings: s/√n = √(28/6)/√7 = 0.8165 with ν = 6, as t: ·√(6/4). b and c: 9 + 64 − 2·0.5·3·8.
    expected = math.sqrt(28 / 6 / 7 * 6 / 4 + 9 + 64 - 24)
    assert found["u"] == pytest.approx(expected, rel=5 / math.sqrt(4e5))
    assert found["y"] == pytest.approx(4 + 2 + 2, abs=5 * expected / math.sqrt(2e5))
    assert values(question) == found


def factor(name: str, function: str = "identity", power: float = 1.0) -> Factor:
    return Factor(name, power, Function(function))


BY_HAND: list[tuple[float, tuple[Factor, ...], Any]] = [
    (2.0, (factor("a", power=2), factor("b", power=-1)), lambda a, b: 2 * a**2 / b),
    (-1.5, (factor("a", "ln"), factor("b")), lambda a, b: -1.5 * np.log(a) * b),
    (1.0, (factor("a", "sin"), factor("b", "cos", 2)), lambda a, b: np.sin(a) * np.cos(b) ** 2),
    (1.0, (factor("a", "arctan", 0.5), factor("b", "tan")), lambda a, b: np.arctan(a) ** 0.5 * np.tan(b)),
    (1.0, (factor("a", "exp"), factor("b", "arcsin")), lambda a, b: np.exp(a) * np.arcsin(b)),
    (1.0, (factor("a"), factor("b", "arccos")), lambda a, b: a * np.arccos(b)),
]


@pytest.mark.parametrize(("coefficient", "factors", "by_hand"), BY_HAND)
def test_terms_are_the_functions_they_name_and_agree_with_first_order(
    coefficient: float, factors: tuple[Factor, ...], by_hand: Any
) -> None:
    parts = {"a": 0.7, "b": 0.4}
    inputs = of_inputs({name: (value, 1e-4) for name, value in parts.items()})
    model = Model((Term(coefficient, factors), Term(0.25)))
    made = model_of_terms(model, inputs)
    a, b = np.array([0.3, 0.7, 0.9]), np.array([0.2, 0.4, 0.6])
    np.testing.assert_allclose(made.function({"a": a, "b": b}), by_hand(a, b) + 0.25, rtol=1e-14)
    # So little spread leaves no bend: propagation of distributions and of uncertainty are the same.
    simulated = simulate(made, rng=np.random.default_rng(11), trials=100_000, wanted=Wanted(0.95))
    first = propagate(model, inputs)
    assert simulated.u == pytest.approx(first.u, rel=5 / math.sqrt(2e5))
    assert simulated.y == pytest.approx(first.estimate, abs=5 * first.u / math.sqrt(1e5))


def of_inputs(given: dict[str, tuple[float, float]]) -> Any:
    return [Input(Component(name, u, Distribution.NORMAL), value) for name, (value, u) in given.items()]


def test_a_model_of_other_inputs_is_refused() -> None:
    with pytest.raises(BadModel):
        model_of_terms(Model((Term(1.0, (Factor("a"), Factor("z"))),)), of_inputs({"a": (1.0, 1.0)}))


ONE = {"kind": "simulation", "seed": 1, "inputs": [{"name": "a", "u": 1}]}


@pytest.mark.parametrize(
    ("question", "error", "said"),
    [
        ({key: ONE[key] for key in ("kind", "inputs")}, QuestionUnreadable, "seed"),
        ({**ONE, "seed": 1.5}, QuestionUnreadable, "whole number"),
        ({**ONE, "interval": "central"}, QuestionUnreadable, "symmetric, shortest"),
        ({**ONE, "probability": 95}, QuestionUnreadable, "less than 1"),
        ({**ONE, "tolerance_share": 0}, QuestionUnreadable, "more than 0"),
        ({**ONE, "trails": 5}, QuestionUnreadable, "“trials” perhaps"),
        ({**ONE, "trials": 10}, QuestionRefused, "for a coverage probability of 0.9545, found 10"),
        ({**ONE, "digits": 12}, QuestionRefused, "1 to 9 significant digits"),
        ({**ONE, "inputs": [{"name": "a", "u": 0}]}, QuestionRefused, "only zeros"),
        (
            {**ONE, "inputs": [{"name": "a", "u": 1, "nu": 2}]},
            QuestionRefused,
            "more than two degrees of freedom",
        ),
        ({**ONE, "model": [{"factors": [{"input": "a", "function": "ln"}]}]}, QuestionRefused, "not finite"),
    ],
)
def test_what_has_no_answer_is_refused_with_a_sentence(
    question: Any, error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        answer_file(json.loads(json.dumps({"format": 1, "questions": [question]}), parse_float=Decimal))
