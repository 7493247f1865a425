"""Studies and stacks asked as questions: every study, every place that a wrong file is told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from labsys.metrology.questions.asking import QuestionRefused, answer_file
from labsys.metrology.questions.fields import QuestionUnreadable
from labsys.metrology.studies.bias import bias_study
from labsys.metrology.studies.levels import level_study_of_readings
from labsys.metrology.studies.nested import nested_study
from tests.labsys.metrology.studies import open_data, ten_parts

NESTED = np.random.default_rng(41).normal(10, 1, (3, 4, 2)).tolist()
LEVELS = np.random.default_rng(42).normal(10, 1, (2, 3, 2, 3)).tolist()


def ask(**question: Any) -> dict[str, Any]:
    answered: Any = answer_file({"format": 1, "questions": [question]})
    found: dict[str, Any] = answered["answers"][0]
    return found


def study(**fields: Any) -> dict[str, Any]:
    values: dict[str, Any] = ask(kind="study", **fields)["values"]
    return values


def test_a_crossed_study_says_its_choices_and_what_they_mean() -> None:
    found = study(study="crossed", readings=open_data(), tolerance=10, significance="0.3", ndc="nearest")
    assert (found["pooling"], found["significance"], found["is_pooled"], found["reduced"]) == (
        "by significance",
        0.3,
        False,
        None,
    )
    assert (found["ndc_rule"], found["denominator"]) == ("nearest", "interaction")
    assert "interaction" in found["rows"] and set(found["intervals"]) == {"repeatability", "grr", "part"}
    assert any("of the tolerance" in one["text"] and one["source"] for one in found["meaning"])


def test_a_nested_study() -> None:
    found, direct = study(study="nested", readings=NESTED), nested_study(NESTED)
    assert found["rows"]["part"]["variance"] == direct.breakdown.rows["part"].variance
    assert found["table"]["appraiser"]["tested_against"] == "part"


def test_levels_from_readings() -> None:
    found, direct = study(study="levels", readings=LEVELS), level_study_of_readings(LEVELS)
    assert (found["run"]["s"], found["single_sd"]) == (direct.run.s, direct.single_sd)


def test_a_bias_study() -> None:
    found, direct = study(study="bias", readings=[5.1, 5.2, 5.0], reference=5), bias_study([5.1, 5.2, 5.0], 5)
    assert (found["mean"], found["bias"]["p"]) == (direct.mean, direct.bias.p)


def test_a_study_by_ranges_with_computed_constants() -> None:
    found = study(study="ranges", readings=ten_parts(), constants="computed")
    assert found["constants"] == "computed" and found["K1"] == pytest.approx(0.58812, abs=5e-6)


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"study": "thorough"}, "study"),
        ({"study": "crossed", "readings": [1, 2]}, r"readings\[0\]"),
        ({"study": "crossed", "readings": [[[1, "x"]]]}, r"readings\[0\]\[0\]\[1\]"),
        ({"study": "crossed", "readings": [[[1]]], "order": ["part", "part", "trial"]}, "order"),
        ({"study": "crossed", "readings": [[[1]]], "ndc": "up"}, "ndc"),
        ({"study": "nested", "readings": NESTED, "tolerence": 1}, "tolerence"),
        (
            {"study": "linearity", "references": [{"reference": 1, "readings": [1, 2]}] * 2},
            r"references\[1\]",
        ),
        ({"study": "type-1", "readings": [1, 2], "reference": 1, "tolerance": 0}, "tolerance"),
    ],
)
def test_a_wrong_file_is_told_the_place(fields: dict[str, Any], place: str) -> None:
    with pytest.raises(QuestionUnreadable, match=place):
        study(**fields)


def test_a_study_that_cant_be_answered_says_why() -> None:
    readings = open_data()
    del readings[0][1][0]
    with pytest.raises(QuestionRefused, match="part 1, appraiser 2"):
        study(study="crossed", readings=readings)


def test_a_stack_of_inch_blocks_with_their_uncertainty() -> None:
    blocks = [
        {"identity": "A1", "nominal": "1 in", "deviation": "2 µin", "certificate": "C7", "U": "0.08 µm"},
        {"identity": "A2", "nominal": "0.10005 in", "certificate": "C7", "U": "0.06 µm", "nu": 50},
    ]
    found = ask(kind="stack", length="1.10005 in", blocks=blocks, wringing="0 µm")["values"]
    first = found["stacks"][0]
    assert (first["sizes"], first["joints"], first["blocks"]) == ("1 in + 0.10005 in", 1, ["A1", "A2"])
    assert float(first["length"]) == pytest.approx(1.10005 * 25.4 + 2e-6 * 25.4, abs=1e-12)
    # One certificate: the standard uncertainties 0.04 and 0.03 µm add linearly.
    assert first["u"] == pytest.approx(0.00007, rel=1e-9)


def test_a_usual_set_has_no_uncertainty_and_the_nearest_is_offered() -> None:
    exact = ask(kind="stack", length=58.345, set="112 mm", wear=["2.0 mm"], avoid=["50 mm"])["values"]
    assert exact["is_exact"] and exact["stacks"][0]["U"] is None
    assert exact["stacks"][0]["blocks"][0] == "2.0 mm"
    near = ask(kind="stack", length="58.3452", set="112 mm", nearest_within="1 µm")["values"]
    assert (near["is_exact"], near["stacks"]) == (False, [])
    assert (near["below"]["nominal"], near["above"]["nominal"]) == ("58.345000000", "58.345500000")


@pytest.mark.parametrize(
    ("fields", "error", "place"),
    [
        (
            {"length": 1, "blocks": [{"identity": "a", "nominal": "one"}]},
            QuestionUnreadable,
            r"blocks\[0\]\.nominal",
        ),
        ({"length": 1, "blocks": [{"identity": "a", "nominal": 1, "size": 1}]}, QuestionUnreadable, "size"),
        ({"length": 1, "set": "12 mm"}, QuestionRefused, "List the blocks one by one"),
        ({"length": 1, "blocks": [{"identity": "a", "nominal": -1}]}, QuestionRefused, "a size above zero"),
        ({"length": 1, "set": "112 mm", "avoid": ["7 mm"]}, QuestionRefused, "blocks to avoid"),
    ],
)
def test_a_wrong_stack_is_told_the_place(fields: dict[str, Any], error: type[Exception], place: str) -> None:
    with pytest.raises(error, match=place):
        ask(kind="stack", **fields)
