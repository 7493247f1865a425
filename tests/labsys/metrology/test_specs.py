"""How a procedure's components are stored, and what a bad form is told."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from labsys.metrology.components import Distribution
from labsys.metrology.specs import (
    KINDS,
    Abbe,
    Alignment,
    Constant,
    Contact,
    Drift,
    ExpansionDifference,
    Geometry,
    Parallelism,
    Proportional,
    Reading,
    Spec,
    SpecUnreadable,
    StandardValue,
    TemperatureDifference,
    Wringing,
    Zero,
    spec_from_json,
    spec_to_json,
    specs_from_json,
    specs_to_json,
)
from labsys.metrology.views import View

ALL: tuple[Spec, ...] = (
    Constant(name="a", size_mm=0.1, distribution=Distribution.NORMAL, nu=9.5, source="study"),
    Proportional(name="b", size_per_mm=1e-6),
    StandardValue(name="c", views=frozenset({View.CALIBRATION})),
    Drift(name="d", constant_mm_per_year=5e-5, per_mm_per_year=5e-7),
    Wringing(name="e", half_width_mm=5e-5),
    Reading(name="f"),
    Zero(name="g", views=frozenset(View)),
    TemperatureDifference(name="h", half_width_k=0.5),
    ExpansionDifference(name="i", half_width_per_k=2e-6, temperature_half_width_k=1.0),
    Geometry(name="j", half_width_mm=0.005),
    Abbe(name="k", offset_mm=40, tilt_half_width_rad=1e-4),
    Parallelism(name="l", spread_mm=0.01),
    Alignment(name="m", half_width_rad=0.002),
    Contact(name="n", apart_mm=0.2),
)


def test_every_kind_is_stored_and_read_back() -> None:
    assert {spec.kind for spec in ALL} == set(KINDS)
    assert specs_from_json(json.loads(json.dumps(specs_to_json(ALL), allow_nan=False))) == ALL


def test_the_stored_form_is_short_and_exact() -> None:
    assert spec_to_json(ALL[9]) == {"kind": "geometry", "name": "j", "half_width_mm": "0.005"}
    assert spec_to_json(ALL[0])["nu"] == "9.5"
    assert spec_to_json(ALL[6])["views"] == ["calibration", "test_value"]


def test_numbers_may_be_plain_and_freedom_infinite() -> None:
    found = spec_from_json({"kind": "constant", "name": "a", "size_mm": 0.1, "nu": "inf"})
    assert found == Constant(name="a", size_mm=0.1, nu=math.inf)


@pytest.mark.parametrize(
    ("stored", "place"),
    [
        ("text", "component 2"),
        ({"name": "a"}, "component 2, kind"),
        ({"kind": "magic", "name": "a"}, "component 2, kind"),
        ({"kind": ["constant"], "name": "a"}, "component 2, kind"),
        ({"kind": "zero", "name": "a", "formula": "x"}, "component 2, formula"),
        ({"kind": "zero", "name": "a", "half_width_mm": 1}, "component 2, half_width_mm"),
        ({"kind": "zero"}, "component 2, name"),
        ({"kind": "zero", "name": "  "}, "component 2, name"),
        ({"kind": "zero", "name": 5}, "component 2, name"),
        ({"kind": "zero", "name": "a", "source": None}, "component 2, source"),
        ({"kind": "geometry", "name": "a"}, "component 2, half_width_mm"),
        ({"kind": "geometry", "name": "a", "half_width_mm": "wide"}, "component 2, half_width_mm"),
        ({"kind": "geometry", "name": "a", "half_width_mm": None}, "component 2, half_width_mm"),
        ({"kind": "geometry", "name": "a", "half_width_mm": True}, "component 2, half_width_mm"),
        ({"kind": "geometry", "name": "a", "half_width_mm": "-0.1"}, "component 2, half_width_mm"),
        ({"kind": "geometry", "name": "a", "half_width_mm": "nan"}, "component 2, half_width_mm"),
        ({"kind": "geometry", "name": "a", "half_width_mm": "inf"}, "component 2, half_width_mm"),
        ({"kind": "constant", "name": "a", "size_mm": 1, "nu": 0}, "component 2, nu"),
        (
            {"kind": "constant", "name": "a", "size_mm": 1, "distribution": "product"},
            "component 2, distribution",
        ),
        ({"kind": "constant", "name": "a", "size_mm": 1, "distribution": []}, "component 2, distribution"),
        ({"kind": "zero", "name": "a", "views": []}, "component 2, views"),
        ({"kind": "zero", "name": "a", "views": "calibration"}, "component 2, views"),
        ({"kind": "zero", "name": "a", "views": ["both"]}, "component 2, views"),
        ({"kind": "zero", "name": "a", "views": [["calibration"]]}, "component 2, views"),
    ],
)
def test_a_bad_form_names_its_place(stored: Any, place: str) -> None:
    with pytest.raises(SpecUnreadable) as refusal:
        specs_from_json([spec_to_json(ALL[5]), stored])
    assert refusal.value.data["place"] == place
    assert place in str(refusal.value)
