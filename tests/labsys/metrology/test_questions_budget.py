"""Budgets, factors and conversions as questions: what they need, and what a wrong one is told."""

from __future__ import annotations

import math
from typing import Any

import pytest

from labsys.metrology.questions.asking import (
    QuestionRefused,
    answer_file,
)
from labsys.metrology.questions.fields import QuestionUnreadable


def values(**question: Any) -> dict[str, Any]:
    answered: Any = answer_file({"questions": [question]})
    found: dict[str, Any] = answered["answers"][0]["values"]
    return found


X = {"name": "x", "estimate": 2, "u": "0.1"}
Y = {"name": "y", "estimate": 3, "half_width": "0.1"}


def test_a_linear_budget_needs_no_model() -> None:
    found = values(kind="budget", unit="mm", constant=1, inputs=[{**X, "sensitivity": 2}, Y])
    assert found["estimate"] == 1 + 2 * 2 + 3
    assert found["u"] == pytest.approx(math.hypot(0.2, 0.1 / math.sqrt(3)))
    assert [row["name"] for row in found["rows"]] == ["x", "y"]
    assert sum(row["share"] for row in found["rows"]) == pytest.approx(1)


def test_rules_are_named_in_the_answer() -> None:
    few = {"name": "x", "readings": ["1.1", "1.2", "1.4"]}
    found = values(kind="budget", inputs=[few, Y], freedom_rule="keep", order="first", probability="0.9")
    assert (found["freedom_rule"], found["order"], found["probability"]) == ("keep", "first", 0.9)
    assert found["rows"][0]["nu"] == 2
    assert found["rows"][1]["nu"] == "infinite"


def test_correlations_are_given_or_follow_from_readings() -> None:
    given = values(
        kind="budget", inputs=[X, {**X, "name": "z"}], correlations=[{"between": ["x", "z"], "r": 1}]
    )
    assert given["u"] == pytest.approx(0.2)
    assert given["correlation_share"] == pytest.approx(0.5)
    rising = [{"name": name, "readings": [1, 2, 3]} for name in ("a", "b")]
    assert values(kind="budget", inputs=rising, read_together=["a", "b"])["u"] == pytest.approx(
        2 / math.sqrt(3)
    )


@pytest.mark.parametrize(
    ("question", "place"),
    [
        ({"inputs": [{"name": "x"}]}, ".inputs[0]"),
        ({"inputs": [{**X, "half_width": 1}]}, ".inputs[0]"),
        ({"inputs": [{"name": "x", "U": 1}]}, ".inputs[0].k"),
        ({"inputs": [{**X, "u": -1}]}, ".inputs[0].u"),
        ({"inputs": [{**X, "distribution": "odd"}]}, ".inputs[0].distribution"),
        ({"inputs": [{**X, "nu": 0}]}, ".inputs[0].nu"),
        ({"inputs": [{**X, "v": 0}]}, ".inputs[0]"),
        ({"inputs": [{**X, "sensitivity": 2}], "model": [{"factors": ["x"]}]}, ".inputs[0]"),
        ({"inputs": [X], "model": [{"factors": ["x"]}], "constant": 1}, ""),
        (
            {"inputs": [X], "model": [{"factors": [{"input": "x", "function": "sinh"}]}]},
            ".model[0].factors[0].function",
        ),
        ({"inputs": [X], "correlations": [{"between": ["x"], "r": 1}]}, ".correlations[0].between"),
        ({"inputs": [X], "read_together": ["x"]}, ".read_together"),
        ({"inputs": [X], "order": "third"}, ".order"),
        ({"inputs": [X], "probability": 95}, ".probability"),
    ],
)
def test_a_wrong_budget_is_told_the_place(question: dict[str, Any], place: str) -> None:
    with pytest.raises(QuestionUnreadable) as refused:
        values(kind="budget", **question)
    assert refused.value.data["place"] == "file.questions[0]" + place


@pytest.mark.parametrize(
    ("question", "said"),
    [
        ({"inputs": []}, "at least one term"),
        ({"inputs": [X], "model": [{"factors": ["y"]}]}, "an input for each name"),
        ({"inputs": [X, Y], "model": [{"factors": ["x"]}]}, "that the model uses"),
        ({"inputs": [X, Y], "correlations": [{"between": ["x", "y"], "r": 2}]}, "from −1 to 1"),
        ({"inputs": [{**X, "u": 0}]}, "above zero"),
        ({"inputs": [{**Y, "distribution": "trapezoidal"}]}, "trapezoid"),
        ({"inputs": [X, {**X, "u": "0.2"}]}, "different names"),
    ],
)
def test_a_budget_without_an_answer_says_why(question: dict[str, Any], said: str) -> None:
    with pytest.raises(QuestionRefused, match=said):
        values(kind="budget", **question)


def test_factors_by_shape_parts_and_doubt() -> None:
    assert values(kind="coverage")["k"] == pytest.approx(2, abs=1e-5)
    assert values(kind="coverage", shape="rectangular", probability="0.95")["k"] == pytest.approx(
        1.645, abs=5e-4
    )
    two = [{"u": 2, "rectangular": True}, {"u": 1, "rectangular": True}, {"u": "0.1", "nu": 3}]
    found = values(kind="coverage", parts=two, probability="0.95")
    assert (found["shape"], found["beta"]) == ("trapezoidal", pytest.approx(1 / 3))
    assert found["U"] == found["k"] * found["u"]
    assert values(kind="coverage", doubt="0.1", freedom_rule="keep")["nu_used"] == pytest.approx(50)
    assert values(kind="coverage", doubt=0)["nu_used"] == "infinite"


@pytest.mark.parametrize(
    "question",
    [
        {"sigmas": 2, "probability": "0.95"},
        {"shape": "trapezoidal"},
        {"shape": "triangle"},
        {"shape": "rectangular", "nu": 3},
        {"nu": "many"},
        {"parts": [{"u": "1e200"}]},
    ],
)
def test_a_wrong_factor_is_told_the_place(question: dict[str, Any]) -> None:
    with pytest.raises(QuestionUnreadable):
        values(kind="coverage", **question)


@pytest.mark.parametrize("question", [{"doubt": 2}, {"doubt": -1}, {"parts": []}, {"parts": [{"u": 0}]}])
def test_a_factor_that_is_none_says_why(question: dict[str, Any]) -> None:
    with pytest.raises(QuestionRefused):
        values(kind="coverage", **question)


@pytest.mark.parametrize(
    ("question", "value", "exact"),
    [
        ({"quantity": "length", "value": 1, "from": "in", "to": "mm"}, "25.4", True),
        ({"quantity": "length", "value": 1, "from": "mm", "to": "in", "decimals": 4}, "0.0394", False),
        ({"quantity": "length", "value": "0.5", "from": "µin", "to": "µm"}, "0.0127", True),
        ({"quantity": "temperature", "value": 68, "from": "°F", "to": "°C"}, "20", True),
        ({"quantity": "temperature", "value": 20, "from": "°C", "to": "K"}, "293.15", True),
        ({"quantity": "temperature difference", "value": 18, "from": "°F", "to": "K"}, "10", True),
        (
            {"quantity": "temperature difference", "value": 1, "from": "°F", "to": "K"},
            "0.555555555556",
            False,
        ),
        ({"quantity": "angle", "value": "1°30′", "to": "′"}, "90", True),
        ({"quantity": "angle", "value": 180, "to": "rad"}, "3.14159265359", False),
        ({"quantity": "angle", "value": 1, "from": "mrad", "to": "µrad"}, "1000", True),
    ],
)
def test_conversions_say_whether_they_are_exact(question: dict[str, Any], value: str, exact: bool) -> None:
    found = values(kind="conversion", **question)
    assert (found["value"], found["exact"]) == (value, exact)


def test_an_angle_is_also_written_with_its_marks() -> None:
    found = values(kind="conversion", quantity="angle", value="-0.5", to="″", seconds_decimals=0)
    assert (found["value"], found["degrees_minutes_seconds"]) == ("-1800", "−0°30′0″")


@pytest.mark.parametrize("value", ["1e999999", "1e-999999", "a", True])
def test_a_conversion_needs_a_number_of_a_readable_size(value: Any) -> None:
    with pytest.raises(QuestionUnreadable):
        values(kind="conversion", quantity="length", value=value, **{"from": "mm", "to": "in"})


def test_conversions_that_cannot_be() -> None:
    with pytest.raises(QuestionRefused, match="273.15"):
        values(kind="conversion", quantity="temperature", value=-1, **{"from": "K", "to": "°C"})
    with pytest.raises(QuestionRefused, match="below 60"):
        values(kind="conversion", quantity="angle", value="1°60′", to="rad")
