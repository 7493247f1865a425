"""Series: what is measured besides points over range and faces; read, written, planned, held against their rules."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from instruments.inventory.models import GaugeModel
from instruments.procedures.content import Content, ContentFault, dump, parse
from instruments.procedures.content.series import place_words
from instruments.procedures.document import differences, document
from instruments.procedures.models import Revision
from instruments.procedures.planner import Piece, PlannedPoint, PlanPoint, open_rules, propose
from instruments.procedures.shipped import procedure
from labsys.metrology.units import Unit, from_mm
from tests.instruments.procedures.shelves import LONG, M112, shelf_of
from tests.instruments.procedures.test_revisions import approve
from tests.laboratory import Lab

D = Decimal
TEXT = (Path(__file__).parent / "micrometer.json").read_text(encoding="utf-8")
PUBLISHED = json.loads(
    (Path(__file__).parents[2] / "golden/published/micrometer-lengths.json").read_text(encoding="utf-8")
)


def content(**of_first: Any) -> Content:
    """Give the micrometer's content, fields of its first series changed."""
    text = json.loads(TEXT)
    text["series"][0].update(of_first)
    return parse(json.dumps(text))


def micrometer(low: str = "0") -> GaugeModel:
    return GaugeModel(
        maker="Invented", designation=f"M{low}", indication="digital", unit="mm", resolution=D("0.001"),
        range_low_mm=D(low), range_high_mm=D(low) + 25, functions=["outside"], expansion_per_k=D("0.0000115"),
    )  # fmt: skip


def planned(of: Content, model: GaugeModel, members: tuple[Piece, ...] = ()) -> tuple[PlannedPoint, ...]:
    shelf = {"outside": shelf_of([*M112, *LONG])}
    found = propose(model=model, functions=("outside",), content=of, available=shelf, members=members)
    assert found.missing == ()
    return found.points


def test_a_content_of_series_alone_reads_back_to_the_same() -> None:
    found = content()
    assert found.points is None and [one.code for one in found.series] == ["length", "flatness_anvil"]
    assert parse(dump(found)) == found
    assert json.loads(dump(found))["format"] == 2


@pytest.mark.parametrize("name", list(PUBLISHED["metric_by_range"]))
def test_the_lengths_of_a_micrometer_are_the_published_ones_for_every_range(name: str) -> None:
    low = name.split("-")[0]
    if D(low) >= 300:
        return
    lengths = [
        point.nominal_mm for point in planned(content(), micrometer(low)) if point.function == "length"
    ]
    wanted = [D(str(length)) for length in PUBLISHED["metric_by_range"][name]]
    assert lengths == ([D(low), *wanted] if D(low) else wanted)


def test_the_lengths_turn_the_thimble_by_72_degrees_from_one_to_the_next() -> None:
    pitch = D(str(PUBLISHED["metric"]["pitch_mm"]))
    lengths = [point.nominal_mm for point in planned(content(), micrometer()) if point.function == "length"]
    angles = [float(length % pitch / pitch * 360) for length in lengths]
    assert angles == PUBLISHED["metric"]["thimble_angle_deg"]


def lengths_by(of: Content) -> list[Decimal]:
    return [point.nominal_mm for point in planned(of, micrometer()) if point.function == "length"]


def test_a_travel_is_read_close_at_first_and_wider_later_to_the_end_of_the_range() -> None:
    parts = [{"up_to_mm": end, "every_mm": every} for end, every in (("2", "0.1"), ("5", "0.5"), ("25", "5"))]
    way = {"kind": "segments", "parts": parts}
    found = lengths_by(
        content(lengths=way, serves="", reads="value", results=[{"kind": "span", "limit": "span"}])
    )
    assert found[:3] == [0, D("0.1"), D("0.2")] and found[20:23] == [2, D("2.5"), 3]
    assert found[26:] == [5, 10, 15, 20, 25]


INCHES = [{"up_to_in": "0.1", "every_in": "0.02"}, {"up_to_in": "1", "every_in": "0.3"}]
TRAVEL: dict[str, Any] = {
    "serves": "", "reads": "value",
    "lengths": {"kind": "segments", "parts": [{"up_to_mm": "25", "every_mm": "5"}], "inch_parts": INCHES},
    "results": [{"kind": "section", "limit": "section", "within_mm": "0.1", "within_in": "0.01"}],
}  # fmt: skip


def test_a_gauge_in_inches_has_stretches_of_its_own_which_end_with_its_range() -> None:
    inch = micrometer()
    inch.unit, inch.range_high_mm = "in", D("25.4")
    found = [from_mm(point.nominal_mm, Unit.IN) for point in planned(content(**TRAVEL), inch)][:9]
    assert found == [0, *(D(text) for text in ("0.02", "0.04", "0.06", "0.08", "0.1", "0.4", "0.7", "1"))]
    assert lengths_by(content(**TRAVEL)) == [0, 5, 10, 15, 20, 25]


def test_a_section_in_inches_holds_for_gauges_in_inches_alone() -> None:
    [rule] = content(**TRAVEL).series[0].results
    assert rule.for_unit(Unit.IN).within_mm == D("0.254") and rule.for_unit(Unit.MM).within_mm == D("0.1")
    [other] = replace(content(**TRAVEL).series[0], results=(replace(rule, within_in=None),)).results
    assert other.for_unit(Unit.IN).within_mm == D("0.1")


def test_inches_are_written_and_read_back_and_a_content_without_them_keeps_its_text() -> None:
    with_inches = content(**TRAVEL)
    assert parse(dump(with_inches)) == with_inches and '"every_in":"0.3"' in dump(with_inches)
    plain = {**TRAVEL, "lengths": {**TRAVEL["lengths"], "inch_parts": []}}
    plain["results"] = [{"kind": "section", "limit": "section", "within_mm": "0.1", "within_in": None}]
    first = json.loads(dump(content(**plain)))["series"][0]
    assert set(first["lengths"]) == {"kind", "parts"}
    assert set(first["results"][0]) == {"kind", "limit", "name", "direction", "within_mm"}


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"lengths": {**TRAVEL["lengths"], "parts": []}}, "a list of 1 to 200 items"),
        ({"lengths": {**TRAVEL["lengths"], "inch_parts": INCHES[::-1]}}, "more than 1, the stretch before"),
        ({"lengths": {**TRAVEL["lengths"], "inch_parts": [{"up_to_mm": "1"}]}}, r"inch_parts\[0\].up_to_mm"),
        (
            {"results": [{"kind": "span", "limit": "span", "within_in": "0.01"}]},
            "no length of a section, where no section span is judged",
        ),
        (
            {"results": [{"kind": "section", "limit": "section", "within_in": "0.01"}]},
            "the length of the section, for a section span only",
        ),
    ],
)
def test_a_fault_in_the_inches_is_named(changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(ContentFault, match=sentence):
        content(**{**TRAVEL, **changes})


def test_the_page_says_the_inches_and_a_comparison_marks_them() -> None:
    entries = [entry for part in document(content(**TRAVEL)) for entry in part.entries]
    said = " ".join(entry.text for entry in entries).replace("\u202f", " ").replace("\xa0", " ")
    assert "Gauges in inches, from nothing on: up to 0.1 in every 0.02 in; up to 1 in every 0.3 in." in said
    assert "over 0.1 mm (gauges in inches: over 0.01 in)" in said
    before = {**TRAVEL, "lengths": {**TRAVEL["lengths"], "inch_parts": INCHES[:1]}}
    changed = [
        one
        for part in differences(document(content(**before)), document(content(**TRAVEL)))
        for one in part.changes
    ]
    added = "".join(piece.text for one in changed for piece in one.after if piece.is_changed)
    assert len(changed) == 1 and "every 0.3" in added.replace("\u202f", " ").replace("\xa0", " ")


def test_stretches_and_bands_of_angles_are_said_in_angles() -> None:
    angles = json.loads(dump(procedure("protractor")))
    [series] = [one for one in angles["series"] if one["code"] == "angle"]
    bands = [{"range_up_to_mm": "90°", "least_points": 2, "lengths_mm": ["15°", "30.5°"]}]
    said: list[str] = []
    for way in (
        {"kind": "segments", "parts": [{"up_to_mm": "15°", "every_mm": "150"}]},
        {"kind": "spread", "bands": bands},
    ):
        series["lengths"] = way
        [entry] = [
            entry
            for part in document(parse(json.dumps(angles)))
            for one in part.entries
            for entry in one.within
            if entry.key == "series/angle/lengths"
        ]
        said.extend(entry.lines)
    assert "From nothing on: up to 15° every 150″. What lies beyond the range is left out." in said
    assert said[-1] == "Ranges up to 90°: at least 2 points, first 15°, 1830′."


def test_spread_lengths_are_as_many_as_the_range_asks_for_one_low_and_one_far() -> None:
    spread = {"kind": "spread", "bands": [{"range_up_to_mm": "50", "least_points": 5}]}
    found = lengths_by(content(lengths=spread))
    assert len(found) == 5 and found[0] <= D("8.35") and found[-1] >= D("22.5")


def test_up_and_down_are_read_one_after_the_other_and_each_is_a_rule() -> None:
    both = content(lengths={"kind": "shares", "of_range": ["0.2", "0.4", "1"]}, directions=["up", "down"])
    points = [point for point in planned(both, micrometer()) if point.function == "length"]
    going = [(int(point.nominal_mm), point.direction) for point in points]
    assert going == [(5, "up"), (10, "up"), (25, "up"), (25, "down"), (10, "down"), (5, "down")]
    done = [PlanPoint(p.function, p.nominal_mm, p.place, p.direction) for p in points[:5]]
    left = open_rules(both, micrometer(), ("outside",), [*done, PlanPoint("flatness_anvil", D(0))])
    assert [rule.sentence for rule in left] == ["Length, coming down: missing at 5 mm."]


def test_every_section_and_angle_of_a_member_is_wanted() -> None:
    plug = content(
        needs="", serves="outside", reads="difference", within_mm="0.1", each_place=True,
        places=["entry/0", "entry/90"], lengths={"kind": "member", "label": "NO-GO"},
        results=[{"kind": "deviation", "limit": "no_go"}, {"kind": "roundness", "limit": "roundness"}],
    )  # fmt: skip
    ends = (Piece(7, "GO", D(20)), Piece(8, "NO-GO", D("20.021")))
    points = [point for point in planned(plug, micrometer(), ends) if point.function == "length"]
    found = [(point.member, point.nominal_mm, point.place) for point in points]
    assert found == [(8, D("20.021"), "entry/0"), (8, D("20.021"), "entry/90")]
    done = [PlanPoint("length", D("20.021"), "entry/0", member=8), PlanPoint("flatness_anvil", D(0))]
    left = open_rules(plug, micrometer(), ("outside",), done, ends)
    assert [rule.code for rule in left] == ["length-place-entry/90"]
    assert (
        open_rules(plug, micrometer(), ("outside",), [done[1]], ends)[0].sentence
        == "Length: NO-GO not measured."
    )


def test_what_nothing_here_serves_is_said_by_name() -> None:
    found = propose(model=micrometer("25"), functions=("outside",), content=content(), available={})
    assert len(found.missing) == 11 and "30.1 mm" in found.missing[2]
    assert [point.function for point in found.points] == ["flatness_anvil"]


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"reads": "bands"}, "series[0].results"),
        ({"serves": ""}, "series[0].serves"),
        ({"directions": ["down"]}, "series[0].directions"),
        ({"places": ["a", "a"]}, "series[0].places"),
        ({"results": [{"kind": "hysteresis", "limit": "hysteresis"}]}, "series[0].directions"),
        ({"results": [{"kind": "spread", "limit": "repeatability"}]}, "series[0].repeats"),
        ({"results": [{"kind": "section", "limit": "section"}]}, "series[0].results[0].within_mm"),
        ({"lengths": {"kind": "shares", "of_range": ["0.5", "1.1"]}}, "series[0].lengths.of_range"),
        ({"code": "flatness_anvil"}, "series[1].code"),
    ],
)
def test_a_series_that_can_t_be_measured_is_refused_by_place(change: dict[str, Any], place: str) -> None:
    with pytest.raises(ContentFault) as caught:
        content(**change)
    assert caught.value.data["place"] == place


@pytest.mark.django_db
def test_a_procedure_with_series_is_tried_on_its_limits_and_put_in_force(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    row = draft(content=content())
    approve(row, lab.reviewer)
    row.refresh_from_db()
    assert row.approved_at is not None


def test_places_are_said_in_words() -> None:
    codes = ("entry/90", "edge-180", "corner-2", "near_beam", "centre")
    assert [place_words(code) for code in codes] == [
        "entry, 90°", "edge at 180°", "corner 2", "near the beam", "centre",
    ]  # fmt: skip
