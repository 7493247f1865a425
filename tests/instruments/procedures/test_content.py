"""The content of a procedure: it round-trips, and every fault names the place it stands at."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from instruments.procedures.content import ContentFault, ContentNotJson, dump, laid_out, parse, to_json
from instruments.procedures.shipped import caliper

FROZEN = Path(__file__).parents[2] / "golden" / "frozen"
SHIPPED = json.loads(dump(caliper()))
REMOVED = object()


def broken(path: str, value: Any) -> str:
    """Put ``value`` at a place such as ``looks[2].caution`` of the shipped content, and write it as JSON."""
    stored = json.loads(json.dumps(SHIPPED))
    target, steps = stored, path.replace("[", ".#").replace("]", "").strip(".").split(".")
    keys = [int(step[1:]) if step.startswith("#") else step for step in steps]
    for key in keys[:-1]:
        target = target[key]
    if value is REMOVED:
        del target[keys[-1]]
    else:
        target[keys[-1]] = value
    return json.dumps(stored)


def test_the_canonical_text_reads_back_to_the_same_content_and_text() -> None:
    text = dump(caliper())
    assert parse(text) == caliper()
    assert dump(parse(text)) == text
    assert text == json.dumps(json.loads(text), sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def test_the_text_for_people_reads_back_too_and_numbers_may_be_numbers() -> None:
    content = caliper()
    assert parse(laid_out(content)) == content
    as_numbers = broken("references.U_mm", 0.003)
    assert parse(as_numbers) == content


def test_a_content_kept_in_the_first_form_still_reads_and_writes_as_it_was_signed() -> None:
    kept = (FROZEN / "procedure-content-1.json").read_text(encoding="utf-8").strip()
    assert dump(parse(kept)) == kept


def test_the_same_content_written_differently_hashes_alike() -> None:
    assert dump(parse(broken("references.U_mm", "0.00300"))) == dump(caliper())


WRONG: list[tuple[str, Any, str, str]] = [
    ("scope", "", "scope", "a text that is not empty"),
    ("scope", 3, "scope", "a text"),
    ("scope", REMOVED, "scope", "a value"),
    ("method", [], "method", "a list of 1 to 200 items"),
    ("method[1]", None, "method[1]", "a text"),
    ("cautions[0]", "x" * 2001, "cautions[0]", "at most 2000 characters"),
    ("looks", {}, "looks", "a list"),
    ("looks[2]", "text", "looks[2]", "an object"),
    ("looks[2].caution", 7, "looks[2].caution", "a text"),
    ("looks[2].colour", "red", "looks[2].colour", "one of the fields"),
    ("looks[2].code", "Not A Code", "looks[2].code", "lower-case words"),
    ("looks[2].code", "identity", "looks[2].code", "a code used once"),
    ("looks[4].only_for[0]", "sundial", "looks[4].only_for[0]", "one of"),
    ("looks[4].ends_job", "yes", "looks[4].ends_job", "true or false"),
    ("zero.allowed_steps", 11, "zero.allowed_steps", "a whole number from 0 to 10"),
    ("zero.allowed_steps", True, "zero.allowed_steps", "a whole number from 0 to 10"),
    ("points.bands[1].range_up_to_mm", "150", "points.bands[1].range_up_to_mm", "more than 160"),
    ("points.bands[0].least_points", 0, "points.bands[0].least_points", "a whole number from 1 to 50"),
    ("points.bands[0].lengths_mm[1]", "41.3", "points.bands[0].lengths_mm[1]", "more than 41.3"),
    ("points.windows.outside", {}, "points.windows.outside", "one of the fields"),
    ("points.windows.inside.to_mm", "20", "points.windows.inside.to_mm", "a number above 20"),
    ("points.windows.depth.prefer_mm", "50", "points.windows.depth.prefer_mm", "a length within the window"),
    ("points.places[0]", "elbow", "points.places[0]", "one of"),
    ("points.places[1]", "near_beam", "points.places[1]", "every place once"),
    ("points.far_share", "1.1", "points.far_share", "a number above 0 to 1"),
    ("points.stack_at_most", 5, "points.stack_at_most", "a whole number from 1 to 4"),
    ("points.confirmed", None, "points.confirmed", "true or false"),
    ("reading_rules.depth", REMOVED, "reading_rules.depth", "what counts as the reading"),
    ("reading_rules.width", "x", "reading_rules.width", "one of the fields"),
    ("readable_parts.dial", 0, "readable_parts.dial", "a whole number from 1 to 10"),
    ("repeats", 2.5, "repeats", "a whole number from 1 to 20"),
    ("spread_limit_mm", 0, "spread_limit_mm", "a number above 0"),
    ("conditions.temperature_high_c", "18", "conditions.temperature_high_c", "a number above 18"),
    ("conditions.humidity_high", "101", "conditions.humidity_high", "a number above 30 to 100"),
    ("references.U_mm", "1e-3", "references.U_mm", "a number such as 0.02"),
    ("references.U_mm", "0.0000000001", "references.U_mm", "at most nine decimals"),
    ("budget", [], "budget", "a list of 1 to 200 items"),
    ("budget[3].kind", "gut_feeling", "budget[3].kind", "one of constant"),
    ("budget[3].half_width_k", "warm", "budget[3].half_width_k", "a number of at least 0"),
    ("budget[3].formula", "1+1", "budget[3].formula", "a field of temperature_difference"),
    ("budget[3].name", "reading", "budget[6].name", "every component named once"),
    ("repeatability.degrees_of_freedom", 0, "repeatability.degrees_of_freedom", "a whole number from 1"),
    ("probability", "1", "probability", "a number from 0.5 to 0.9999"),
    ("digits", 3, "digits", "a whole number from 1 to 2"),
    ("rounding", "up", "rounding", "one of"),
    ("rule", "simple", "rule", "a decision rule as an object"),
    ("rule.kind", "hopeful", "rule.kind", "one of simple"),
    ("rule.g", "1", "rule.g", "a parameter of simple"),
    ("extra", 1, "extra", "one of the fields"),
    ("format", 3, "format", "a whole number from 1 to 2"),
    ("format", REMOVED, "format", "a value"),
]


@pytest.mark.parametrize(
    ("path", "value", "place", "expected"), WRONG, ids=[f"{w[0]}={w[1]!r:.20}" for w in WRONG]
)
def test_a_fault_names_its_place_and_what_was_expected(
    path: str, value: Any, place: str, expected: str
) -> None:
    with pytest.raises(ContentFault) as caught:
        parse(broken(path, value))
    assert caught.value.data["place"] == place
    assert expected in caught.value.data["expected"]
    assert place in str(caught.value)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "line 1, column 1"),
        ('{"scope": }', "line 1, column 11"),
        ('{"repeats": NaN}', "NaN is no number"),
        ('{"repeats": 1, "repeats": 2}', "“repeats” is given twice"),
        ("[" * 100_000, "recursion"),
        ("1" * 5000, "digit"),
        (" " * 200_001, "longer than"),
    ],
)
def test_what_is_no_json_is_refused_with_the_fault(text: str, what: str) -> None:
    with pytest.raises(ContentNotJson, match=what):
        parse(text)


@pytest.mark.parametrize("text", ["null", "3", "[]", '"x"'])
def test_a_top_that_is_no_object_is_named(text: str) -> None:
    with pytest.raises(ContentFault, match="at the top: expected an object"):
        parse(text)


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)
places = st.sampled_from(
    [
        *SHIPPED,
        "looks[0]",
        "looks[0].code",
        "points.bands",
        "points.bands[0]",
        "points.windows.inside",
        "budget[1]",
    ]
    + [
        "rule.view",
        "rule.min_ratio",
        "budget[1].kind",
        "budget[1].views",
        "budget[1].source",
        "conditions.soak_minutes",
    ]
)


@settings(max_examples=300, deadline=None)
@given(path=places, value=json_values)
def test_whatever_stands_anywhere_it_is_read_or_refused_by_name(path: str, value: Any) -> None:
    try:
        content = parse(broken(path, value))
    except ContentFault as fault:
        assert fault.data["place"] and fault.data["expected"]
    else:
        assert parse(dump(content)) == content


def test_the_shipped_caliper_says_what_its_practice_asks_for() -> None:
    content = caliper()
    codes = [look.code for look in content.looks]
    assert {
        "damage",
        "movement",
        "display",
        "dial",
        "outside-faces",
        "inside-faces",
        "clamp",
        "depth-rod",
    } <= set(codes)
    rules = content.points
    assert rules is not None
    by_range = [(band.range_up_to_mm, band.least_points) for band in rules.bands]
    assert by_range[0][1] == 3 and all(points > 3 for reach, points in by_range[1:])
    assert set(rules.windows) == {"inside", "depth", "step", "small_bore"}
    assert set(content.reading_rules) == {"outside", *rules.windows}
    assert not rules.confirmed and content.starting_values
    assert all(band.lengths_mm[-1] >= band.range_up_to_mm * 9 / 10 for band in rules.bands)


def test_looks_follow_what_the_gauge_has() -> None:
    content = caliper()
    digital = {look.code for look in content.looks_for(("outside", "inside"), "digital", "knife-edges")}
    assert {"display", "fast-run", "inside-faces"} <= digital
    assert not {"dial", "vernier", "nibs", "depth-rod", "step-faces"} & digital
    vernier = {look.code for look in content.looks_for(("outside", "depth"), "vernier", "nibs")}
    assert {"vernier", "nibs", "depth-rod"} <= vernier and "inside-faces" not in vernier


def test_the_written_form_holds_no_number_that_loses_digits() -> None:
    def floats(value: Any) -> list[float]:
        if isinstance(value, dict):
            return [found for item in value.values() for found in floats(item)]
        if isinstance(value, list):
            return [found for item in value for found in floats(item)]
        return [value] if isinstance(value, float) else []

    assert floats(to_json(caliper())) == []
