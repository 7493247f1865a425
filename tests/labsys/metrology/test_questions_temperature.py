"""Temperatures, roundings and the stability of blocks as questions: second methods, and what a wrong one is told."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

import pytest

from labsys.metrology.expansion import Material
from labsys.metrology.questions.asking import QuestionRefused, answer_file, form_of, parse_file
from labsys.metrology.questions.fields import QuestionUnreadable
from tests.labsys.metrology.published import entry


def values(**question: Any) -> dict[str, Any]:
    answered: Any = answer_file({"questions": [question]})
    found: dict[str, Any] = answered["answers"][0]["values"]
    return found


CORRECTION = {"kind": "temperature", "ask": "correction", "length": 100, "temperature": 22}
SOAK = {"kind": "temperature", "ask": "soak", "gap": 5}
SENSOR = {"kind": "temperature", "ask": "wrong_sensor", "length": 100, "temperature": 22}


def test_the_form_names_every_material() -> None:
    form = " ".join(form_of("temperature").split())
    assert [one for one in Material if one.value not in form] == []


def test_a_correction_is_the_difference_of_both_lengths_at_20() -> None:
    found = values(**CORRECTION, standard_temperature="21.5", material="aluminium", standard_alpha="11.5")
    part, standard = (
        values(kind="temperature", ask="length_at_20", length=100, temperature=t, alpha=alpha)["length"]
        for t, alpha in ((22, "23.1"), ("21.5", "11.5"))
    )
    # To first order: what the squares leave out is 100 mm · (46e-6)², a fifth of a nanometre.
    assert float(found["correction"]) == pytest.approx(standard - part, abs=3e-7)
    assert (found["alpha"], found["standard_alpha"]) == ("23.1", "11.5")
    assert Decimal(found["correction_um"]) == Decimal(found["correction"]) * 1000


def test_the_components_add_up_to_u() -> None:
    found = values(**CORRECTION, u_temperature="0.2", u_difference="0.1", u_alpha=1, u_standard_alpha="0.5")
    assert found["u_um"] == pytest.approx(math.hypot(*(one["u_um"] for one in found["components"])))
    by_name = {one["name"]: abs(one["u_um"]) for one in found["components"]}
    assert by_name["temperature difference of gauge and standard"] == pytest.approx(100 * 11.5e-6 * 0.1 * 1e3)
    assert by_name["expansion coefficient of the gauge"] == pytest.approx(100 * 2 * 1e-6 * 1e3)


def test_a_soak_ends_at_the_change_of_length_that_may_be_left() -> None:
    by_change = values(**SOAK, within="0.5 µm", length=100, material="steel", shape="bar", width=16, height=4)
    assert by_change["left"] == pytest.approx(0.0005 / (100 * 11.5e-6))
    by_kelvin = values(**SOAK, left=by_change["left"], shape="bar", width=16, height=4)
    assert by_kelvin == by_change
    cooled = 5 * math.exp(-by_change["needed_min"] / by_change["time_constant_min"])
    assert cooled == pytest.approx(by_change["left"])
    assert values(**SOAK, shape="cylinder", diameter=20)["time_constant_min"] == pytest.approx(31.4)


def test_a_wrong_sensor_changes_the_correction_by_what_it_showed_too_much() -> None:
    found = values(**SENSOR, too_high="0.5", standard_alpha="4.6", is_corrected=True)
    right = {**CORRECTION, "temperature": "21.5", "standard_temperature": 22, "standard_alpha": "4.6"}
    before = values(**CORRECTION, standard_alpha="4.6")["correction"]
    assert Decimal(found["change"]) == Decimal(values(**right)["correction"]) - Decimal(before)
    assert Decimal(values(**SENSOR, too_high="0.5", is_corrected=False)["change"]) == 0


def test_a_tie_is_rounded_as_it_was_written() -> None:
    # Trap 11: in binary 12.35 lies below the tie and 12.45 above it; as numbers in a file both are ties.
    asked = [
        f'{{"kind": "rounding", "value": {value}, "place": 0.1}}' for value in ("12.25", "12.35", "12.45")
    ]
    answered: Any = answer_file(parse_file(f'{{"questions": [{", ".join(asked)}]}}'))
    found = [one["values"]["value"] for one in answered["answers"]]
    assert found == ["12.2", "12.4", "12.4"]
    assert entry("rounding", "12.35 to 0.1, rule A")["printed"] == found[1]
    binary = Decimal(12.35).quantize(Decimal("0.1"), rounding=ROUND_HALF_EVEN)
    assert str(binary) == "12.3", "a binary number would have given another print"


def test_u_is_rounded_once_and_from_all_its_digits() -> None:
    # Trap 4: GUM H.1 prints 93 nm from the rounded 32 nm; 2.92 times the unrounded 31.66 nm are 92 nm.
    unrounded = values(kind="rounding", error=0, U=2.9208e-6 * 31.664, unit="µm")
    rounded_first = values(kind="rounding", error=0, U=2.92e-6 * 32, unit="µm")
    assert (unrounded["U"], rounded_first["U"]) == ("0.092", "0.093")


def test_rounding_up_and_places_beyond_the_point() -> None:
    assert values(kind="rounding", error=0, U="10.01", always_up=True)["U"] == "11"
    assert values(kind="rounding", value=25, place=10)["value"] == "20"
    assert values(kind="rounding", value=25, place="1E+1", rounding="half_up")["value"] == "30"


def test_grades_of_blocks_that_share_a_rule() -> None:
    found = {
        grade: values(kind="stability", length=50, grade=grade)["change_um"]
        for grade in ("K", "0", "1", "2", "AS-1", "AS-2")
    }
    assert found["K"] == found["0"] == pytest.approx(0.0325)
    assert [found[grade] for grade in ("1", "2", "AS-1", "AS-2")] == pytest.approx([0.075] * 4)


ROUND = {"kind": "rounding", "error": "0.1", "U": "0.02"}


@pytest.mark.parametrize(
    ("question", "said"),
    [
        ({**CORRECTION, "ask": "length_at_20", "alpha": 1, "temperature": -1e9}, "near 20 °C"),
        ({**SOAK, "shape": "bar", "width": 0, "height": 4}, "above zero"),
        ({**SOAK, "shape": "cylinder", "diameter": 1e200}, "above zero"),
        ({**ROUND, "U": -1}, "above zero"),
        ({"kind": "rounding", "value": "1e200", "place": 1}, "1E+200"),
        ({"kind": "stability", "length": 1001, "grade": "K"}, "1000 mm"),
    ],
)
def test_what_has_no_answer_is_refused_by_name(question: dict[str, Any], said: str) -> None:
    with pytest.raises(QuestionRefused) as refused:
        values(**question)
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("question", "place"),
    [
        ({**CORRECTION, "material": "cheese"}, ".material"),
        ({**CORRECTION, "u_alpha": -1}, ".u_alpha"),
        ({**CORRECTION, "ask": "weather"}, ".ask"),
        ({**SOAK, "shape": "bar", "width": 16}, ".height"),
        ({**SOAK, "shape": "ball"}, ".shape"),
        ({**SENSOR, "too_high": 1}, ".is_corrected"),
        ({**ROUND, "digits": 3}, ".digits"),
        ({**ROUND, "place": 1}, "[0]"),
        ({"kind": "rounding", "value": 1, "place": "0.2"}, ".place"),
        ({"kind": "rounding", "value": 1, "place": 0}, ".place"),
        ({"kind": "stability", "length": 25, "grade": "00"}, ".grade"),
    ],
)
def test_a_wrong_field_is_told_its_place(question: dict[str, Any], place: str) -> None:
    with pytest.raises(QuestionUnreadable) as refused:
        values(**question)
    assert refused.value.data["place"].endswith(place)
