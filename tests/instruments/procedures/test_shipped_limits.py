"""Limits that ship, held against the published tables they are taken from; where none ship, a sentence says so."""

from __future__ import annotations

import json
import math
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from instruments.inventory.models import LimitSet
from instruments.inventory.queries import limits_at
from instruments.procedures.shipped import AsMade, NoStartingLimits, limits_for, procedure
from labsys.metrology.limits import Limits
from tests.instruments.procedures.test_shipped import FAMILIES, TYPICAL, Typical, agreed, made

D = Decimal
PUBLISHED = Path(__file__).parents[2] / "golden" / "published"


def golden(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(
        (PUBLISHED / f"{name}.json").read_text(encoding="utf-8"), parse_float=D
    )
    return found


def at(family: str, of: AsMade, code: str, length: str | Decimal) -> Limits:
    """Give the limits that ship for one characteristic at a length."""
    found = limits_at(limits_for(family, of).rows, code, D(length))
    assert found is not None, f"no line for {code} at {length} mm"
    return found


def mm(um: Any) -> Decimal:
    return D(um) / 1000


@pytest.mark.parametrize("grade", ["K", "0", "1", "2"])
def test_gauge_blocks_have_the_published_limits_of_their_grade(grade: str) -> None:
    rows = golden("gauge-block-grades")["rows"]
    assert len(rows) == 16
    for row in rows:
        te, tv = mm(row[grade]["te_um"]), mm(row[grade]["tv_um"])
        for length in (D(row["to_mm"]), D(row["over_mm"]) + D("0.01")):
            of = made(str(row["to_mm"]), grade=grade)
            assert at("gauge-block", of, "size", length) == Limits(-te, te)
            assert at("gauge-block", of, "variation", length) == Limits(None, tv)


def test_AS_1_is_grade_1() -> None:
    assert limits_for("gauge-block", made("100", grade="AS-1")).rows == limits_for(
        "gauge-block", made("100", grade="1")
    ).rows  # fmt: skip


def test_micrometers_have_the_published_limits_of_their_range_and_these_follow_the_formula() -> None:
    found = golden("micrometer-limits")
    assert len(found["rows"]) == 20
    for row in found["rows"]:
        of = made(str(row["to_mm"]), "0.001", "outside", low=str(row["from_mm"]))
        error, high = mm(row["error_limit_um"]), D(row["to_mm"])
        assert at("outside-micrometer", of, "outside", high) == Limits(-error, error)
        assert at("outside-micrometer", of, "parallelism", high).upper == mm(row["parallelism_um"])
        # 4 + A/50 cut to whole µm, A the low end of the range.
        assert error == mm(math.floor(4 + row["from_mm"] / 50))
    assert at("outside-micrometer", made("25"), "flatness", "0").upper == mm(
        found["formulas_um"]["flatness_each_face"]
    )


def test_an_inch_micrometer_takes_the_line_of_its_low_end() -> None:
    of = made("50.8", "0.0001", low="25.4", unit="in")
    assert at("outside-micrometer", of, "outside", "50.8").upper == D("0.004")


@pytest.mark.parametrize(
    ("build", "name"),
    [
        ("rod-and-sleeve", "rod_and_sleeve"),
        ("tubular", "tubular_interchangeable"),
        ("tubular-fixed", "tubular_fixed"),
    ],
)
def test_inside_micrometers_have_the_published_errors_of_their_construction(build: str, name: str) -> None:
    rows = golden("inside-micrometer-limits")[name]
    for low, high, error in rows:
        # A range that a tighter line holds too takes that one.
        wanted = min(D(e) for start, end, e in rows if start <= low and high <= end)
        of = made(str(high), low=str(low), build=build)
        assert at("inside-micrometer", of, "inside", D(high)) == Limits(-wanted, wanted)
        assert wanted <= D(error)


@pytest.mark.parametrize("grade", ["XXX", "XX", "X", "Y", "Z", "ZZ"])
def test_plain_gauges_have_the_published_tolerance_of_their_class_on_the_side_it_lies_on(grade: str) -> None:
    for row in golden("plain-gauge-classes")["rows"]:
        width = mm(row["tolerance_um_exact"][grade])
        of = made(str(row["to_mm_exact"]), grade=grade)
        size = D(row["to_mm_exact"])
        assert at("plain-plug", of, "go", size) == Limits(D(0), width)
        assert at("plain-plug", of, "no_go", size) == Limits(-width, D(0))
        assert at("plain-ring", of, "go", size) == Limits(-width, D(0))
        assert at("plain-ring", of, "no_go", size) == Limits(D(0), width)
        assert at("plain-plug", of, "roundness", size).upper == width / 2
        assert [row["lower_mm"] for row in limits_for("plain-plug", of).rows if row["function"] == "go"] == [
            "0"
        ]


def test_a_go_end_may_wear_past_its_tolerance_where_that_is_entered() -> None:
    of = AsMade(range_high_mm=D(20), tolerance_mm=D("0.004"), wear_mm=D("0.003"))
    assert at("plain-plug", of, "go", "20") == Limits(D("-0.005"), D("0.002"))
    assert at("plain-plug", of, "no_go", "20") == Limits(D("-0.002"), D("0.002"))
    assert at("plain-ring", of, "go", "20") == Limits(D("-0.002"), D("0.005"))
    assert "0.003 mm past its tolerance" in limits_for("plain-plug", of).source


def test_a_gauge_for_a_grade_of_the_workpiece_has_its_making_tolerance_on_both_sides() -> None:
    # IT7 takes IT3 for plugs: 4 µm over 18 mm to 30 mm (from memory).
    of = made("25.021", grade="IT7")
    assert at("plain-plug", of, "go", "25") == Limits(D("-0.002"), D("0.002"))


@pytest.mark.parametrize("grade", ["0", "1", "2", "3"])
def test_plates_have_the_flatness_of_their_grade_and_diagonal(grade: str) -> None:
    per_mm, constant = golden("plate-flatness")["iso"][grade]
    for diagonal, hundreds in (("188.7", 200), ("1000", 1000), ("2968.2", 3000)):
        wanted = mm(D(per_mm) * hundreds + D(constant))
        assert at("surface-plate", made(diagonal, grade=grade), "flatness", diagonal).upper == wanted


def test_plates_of_grade_AA_agree_with_the_published_formula_in_inches() -> None:
    for row in golden("plate-flatness")["asme_AA_uin"]:
        diagonal = f"{math.hypot(*row['plate_in']) * 25.4:.3f}"
        found = at("surface-plate", made(diagonal, grade="AA"), "flatness", diagonal).upper
        assert found is not None
        # The formula in metres is rounded: 1.6 for 1.575 (25.4 nm · 1550 / 25), 1 for 1.016.
        assert float(found) * 1000 == pytest.approx(float(row["formula"]) * 0.0254, rel=0.02)
        assert at("surface-plate", made(diagonal, grade="B"), "flatness", diagonal).upper == pytest.approx(
            4 * found, rel=D("0.01")
        )


def test_a_depth_micrometer_adds_head_and_rod() -> None:
    of = made("300", "0.001", "depth")
    found = [at("depth-micrometer", of, "depth", length).upper for length in ("25", "50", "150", "300")]
    # 3 µm for the head; 3 + 2 + L/75 cut to whole µm with a rod.
    assert found == [D("0.003"), D("0.005"), D("0.007"), D("0.009")]


def test_pins_and_height_gauges_have_the_remembered_values() -> None:
    assert at("plain-pin", made("10", grade="0"), "size", "10") == Limits(D("-0.0005"), D("0.0005"))
    assert at("height-gauge", made("600", "0.01"), "height", "300").upper == D("0.03")
    assert at("height-gauge", made("600", "0.01"), "height", "301").upper == D("0.04")
    assert at("height-gauge", made("609.6", "0.0005", unit="in"), "height", "609.6").upper == D("0.04")
    assert at("dial-indicator", made("10", "0.01"), "span_up", "10").upper == D("0.015")
    assert at("lever-indicator", made("0.8", "0.01"), "span", "0.8").upper == D("0.013")


@pytest.mark.parametrize("division", ["0.0005", "0.001"])
def test_a_dial_indicator_in_inches_has_one_division_a_third_and_a_fifth_of_it(division: str) -> None:
    of = made("25.4", division, "travel", unit="in")
    found = {
        code: at("dial-indicator", of, code, "25.4").upper
        for code in ("span_up", "hysteresis", "repeatability")
    }
    # ±1 division, hysteresis a third, repeatability a fifth: ASME B89.1.10M, from memory.
    wanted: dict[str, Decimal] = {"span_up": D(2), "hysteresis": D(1) / 3, "repeatability": D(1) / 5}
    for code, divisions in wanted.items():
        limit = found[code]
        assert limit is not None and limit <= divisions * of.step_mm < limit + D("0.001")


@pytest.mark.parametrize("of", TYPICAL, ids=str)
def test_every_result_that_is_judged_has_a_line_and_no_line_is_for_nothing(of: Typical) -> None:
    shown = limits_for(of.family, agreed(of).made)
    content = procedure(of.family)
    wanted = {rule.limit for one in content.series_for(of.made.functions) for rule in one.results}
    whole = {rule.limit for one in content.series for rule in one.results}
    there = {row["function"] for row in shown.rows}
    assert wanted - {"fit"} <= there <= whole
    assert not shown.confirmed
    assert 0 < len(shown.source) <= (LimitSet._meta.get_field("source").max_length or 0)


@pytest.mark.parametrize(
    ("family", "of"),
    [
        ("outside-micrometer", made("50", "0.001")),
        ("outside-micrometer", made("525", "0.001", low="500")),
        ("outside-micrometer", made("25", "0.1")),
        ("depth-micrometer", made("150", "0.1")),
        ("inside-micrometer", made("400", "0.01", low="5", build="tubular-fixed")),
        ("inside-micrometer", made("50", "0.001")),
        ("depth-gauge", made("150", "0.03")),
        ("height-gauge", made("300", "0.001")),
        ("height-gauge", made("1000", "0.01")),
        ("dial-indicator", made("30", "0.01")),
        ("dial-indicator", made("6.35", "0.002", unit="in")),
        ("dial-indicator", made("50.8", "0.001", unit="in")),
        ("dial-indicator", made("6.35", "0.0254")),
        ("digital-indicator", made("100", "0.001")),
        ("gauge-block", made("100", grade="3")),
        ("gauge-block", made("1200", grade="1")),
        ("gauge-block", made("25.4", grade="1", unit="in")),
        ("plain-plug", made("400", grade="Z")),
        ("plain-plug", made("0.2", grade="Z")),
        ("plain-plug", made("20")),
        ("plain-ring", made("20", grade="IT5")),
        ("plain-pin", made("10", grade="3")),
        ("setting-ring", made("600")),
        ("checker-bar", made("1500")),
        ("thread-plug", made("10", grade="6H")),
        ("feeler", made("3")),
        ("radius-gauge", made("60")),
        ("surface-plate", made("1000", grade="00")),
        ("protractor", made("360")),
    ],
    ids=lambda value: value if isinstance(value, str) else value.words.replace(" ", "_"),
)
def test_where_no_limits_ship_a_sentence_says_so(family: str, of: AsMade) -> None:
    with pytest.raises(NoStartingLimits, match="Enter the maker's or the owner's"):
        limits_for(family, of)


def test_every_family_has_limits_or_a_refusal_of_its_own() -> None:
    for family in FAMILIES:
        with pytest.raises(NoStartingLimits) as caught:
            limits_for(family, made("99999", "0.07", "outside", grade="none"))
        assert "family" not in str(caught.value)


def test_the_example_of_three_wires_is_right() -> None:
    thread = {name: D(text) for name, text in golden("fixed-gauge-examples")["thread"].items()}
    found = thread["M"] - 3 * thread["W"] + D("0.866025") * thread["P"]
    assert found.quantize(D("0.001")) == thread["d2"]
    # The factors of the procedure: half the cotangent of 30°, and the best wire.
    assert math.sqrt(3) / 2 == pytest.approx(0.866025, abs=5e-7)
    assert 1 / (2 * math.cos(math.radians(30))) == pytest.approx(0.577350, abs=5e-7)
    said = " ".join((procedure("thread-plug").scope, *procedure("thread-plug").starting_values))
    assert all(str(value) in said for value in thread.values())
