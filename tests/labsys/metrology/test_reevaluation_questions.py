"""Re-evaluation asked as a question: a chain with dates, a new U, what is left out, what is refused."""

from __future__ import annotations

from typing import Any

import pytest

from labsys.metrology.budget import combine
from labsys.metrology.components import Component, Distribution
from labsys.metrology.questions.asking import QuestionRefused, answer_file
from labsys.metrology.questions.fields import QuestionUnreadable

BLOCK: dict[str, Any] = {
    "name": "block",
    "value": 0,
    "measured_on": "2026-02-01",
    "uses": [{"standard": "S", "sensitivity": 1, "component": 1}],
    "components": [{"size": "0.1 µm"}, {"size": "0.3 µm", "divisor": 2}],
}
GAUGE: dict[str, Any] = {
    "name": "gauge",
    "value": "3.5 µm",
    "measured_on": "2026-08-01",
    "uses": [{"standard": "block", "count": 2, "component": 0}],
    "components": [
        {"size": "0.15 µm", "sensitivity": -2, "group": "block"},
        {"size": "1 µm", "distribution": "rectangular", "nu": 20},
    ],
    "limits": {"lower": "-4 µm", "upper": "4 µm"},
    "rule": {"kind": "four_way"},
}
CHANGE: dict[str, Any] = {
    "standard": "S",
    "used": "25",
    "new": "24.9995",
    "last_good_on": "2026-01-01",
    "found_on": "2026-03-04",
    "U": "2 µm",
}


def asked(**changes: Any) -> dict[str, Any]:
    question = {"kind": "reevaluation", "changes": [CHANGE], "results": [GAUGE, BLOCK], **changes}
    answered: dict[str, Any] = answer_file({"format": 1, "questions": [question]})
    values: dict[str, Any] = answered["answers"][0]["values"]
    return values


def test_a_chain_of_two_with_dates_and_a_new_u() -> None:
    values = asked()
    gauge, block = values["results"]
    # 31 of 62 days: half of −0.5 µm into the block, twice that with the other sign into the gauge.
    assert [block[way]["shift"] for way in ("worst", "interpolated")] == ["-0.000500000", "-0.000250000"]
    assert [gauge[way]["value"] for way in ("worst", "interpolated")] == ["0.004500000", "0.004000000"]
    assert values["flips"] == ["gauge"]
    assert values["changes"] == [{"standard": "S", "shift": "-0.000500000"}]
    assert block["worst"]["verdict"] is None and block["worst"]["conforms"] is None
    again = combine(
        [Component("own", 0.0001, Distribution.NORMAL), Component("S", 0.001, Distribution.NORMAL)]
    )
    assert block["U"] == pytest.approx(again.U_mm)
    whole = combine(
        [
            Component("block", again.u_mm, Distribution.NORMAL, sensitivity=-2),
            Component("step", 0.001, nu=20),
        ]
    )
    assert gauge["U"] == pytest.approx(whole.U_mm)


def test_what_is_left_out_makes_the_change_count_whole() -> None:
    undated = {name: one for name, one in GAUGE.items() if name != "measured_on"} | {
        "uses": [{"standard": "S"}]
    }
    (gauge,) = asked(results=[undated])["results"]
    assert gauge["worst"]["shift"] == gauge["interpolated"]["shift"] == "0.000500000"


def test_nothing_but_products() -> None:
    product = {"recorded": "10.02", "gauge_error": "-10 µm", "limits": {"lower": 10, "upper": "10.02"}}
    values = asked(changes=[], results=[], products=[product])
    assert values["products"] == [
        {"corrected": "10.030000000", "margin": "-0.010000000", "status": "now outside"}
    ]
    assert values["results"] == values["flips"] == []


@pytest.mark.parametrize(
    ("changes", "place"),
    [
        ({"changes": [{**CHANGE, "found_on": "yesterday"}]}, "changes[0].found_on"),
        ({"changes": [{**CHANGE, "last_good_on": 2026}]}, "changes[0].last_good_on"),
        ({"changes": [{**CHANGE, "old": 1}]}, "changes[0]"),
        ({"results": [{**BLOCK, "uses": [{"standard": "S", "count": 0}]}]}, "results[0].uses[0].count"),
        ({"results": [{**BLOCK, "U": 1}]}, "results[0]"),
        ({"products": [{"recorded": 1}]}, "products[0].gauge_error"),
    ],
)
def test_a_wrong_question_is_told_the_place(changes: dict[str, Any], place: str) -> None:
    with pytest.raises(QuestionUnreadable) as refused:
        asked(**changes)
    assert refused.value.data["place"] == f"file.questions[0].{place}"


def test_a_circle_is_refused_as_an_answer() -> None:
    with pytest.raises(QuestionRefused, match="circle: block → block"):
        asked(results=[{**BLOCK, "uses": [{"standard": "block"}]}])
