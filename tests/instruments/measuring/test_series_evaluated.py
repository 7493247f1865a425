"""Gauges that are no calipers, from start to a signed certificate: what is computed from their readings.

Checked against: sums done here by numpy and by hand from the same readings; definitions of ISO 463:2006 for indicators
(from memory) and of the house for plugs. Contents, standards and readings are invented.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from decimal import Decimal as D
from typing import Any

import numpy as np
import pytest
from django.test import Client

from instruments.certificates.operations import sign_off
from instruments.certificates.queries import document_of
from instruments.measuring.evaluation import evaluate_run
from instruments.measuring.models import Point, Result, SetAside
from instruments.measuring.open_items import open_items
from instruments.measuring.operations import open_session
from instruments.measuring.queries import bench_of, outcome_of
from instruments.measuring.showing.targets import at_point
from instruments.procedures.content import parse
from instruments.procedures.trial import require_workable
from labsys.metrology.acceptance import AccuracyRatioTooLow
from labsys.metrology.verdicts import Verdict
from tests.bench import MORNING
from tests.families import Piece, Workplace, hand_in, read_at, text_of
from tests.instruments.certificates.traced import traced_lab
from tests.laboratory import Lab, proof
from tests.once import made_once

MICROMETER = text_of(
    [
        {
            "code": "length", "name": "Length", "needs": "outside", "serves": "outside",
            "lengths": {"kind": "from-low", "mm": [
                "2.5", "5.1", "7.7", "10.3", "12.9", "15", "17.6", "20.2", "22.8", "25",
            ]},
            "reading_rule": "Three clicks of the ratchet.", "results": [{"kind": "error", "limit": "outside"}],
            "sketch": "micrometer",
        },
        {
            "code": "flat_anvil", "name": "Flatness of the anvil", "reads": "bands", "band_mm": "0.00029",
            "lengths": {"kind": "none"}, "reading_rule": "Count the bands.",
            "results": [{"kind": "value", "limit": "flatness"}],
        },
        {
            "code": "ratchet", "name": "The ratchet slips evenly", "reads": "attribute", "lengths": {"kind": "none"},
            "reading_rule": "Turn it slowly.", "results": [{"kind": "attribute", "limit": "fit"}],
        },
    ],
    zero={"fixed": False, "allowed_steps": 1, "how": "low-end"},
)  # fmt: skip

INDICATOR = text_of(
    [
        {
            "code": "travel", "name": "Travel", "needs": "travel", "serves": "travel",
            "lengths": {"kind": "shares", "of_range": ["0", "0.1", "0.2", "0.3", "0.5", "0.7", "1"]},
            "directions": ["up", "down"], "reading_rule": "Approach from one side.",
            "results": [
                {"kind": "span", "limit": "span_up", "name": "Error span, going up", "direction": "up"},
                {"kind": "span", "limit": "span", "name": "Error span, both directions"},
                {"kind": "section", "limit": "section", "within_mm": "1", "direction": "up"},
                {"kind": "hysteresis", "limit": "hysteresis"},
            ],
        },
        {
            "code": "again", "name": "Repeatability", "needs": "travel", "serves": "travel", "repeats": 5,
            "lengths": {"kind": "shares", "of_range": ["0.5"]}, "reading_rule": "Lift and set down five times.",
            "results": [{"kind": "spread", "limit": "repeatability"}], "spread_limit_mm": "0.02",
        },
    ],
    zero={"fixed": False, "allowed_steps": 1, "how": "reference"},
    readable_parts={"dial": 5},
)  # fmt: skip

PLACES = [f"{section}/{angle}" for section in ("entry", "middle", "far") for angle in (0, 90)]


def plug_series(code: str, label: str, limit: str) -> dict[str, Any]:
    return {
        "code": code, "name": f"{label} size", "serves": "size", "reads": "difference",
        "lengths": {"kind": "member", "label": label}, "places": PLACES, "each_place": True,
        "on": {"unit": "µm", "step": "0.1"}, "reading_rule": "The largest while the plug is rolled.",
        "results": [
            {"kind": "deviation", "limit": limit},
            {"kind": "roundness", "limit": "roundness"},
            {"kind": "taper", "limit": "taper"},
        ],
        "sketch": "plug",
    }  # fmt: skip


PLUG = text_of(
    [plug_series("go_size", "GO", "go"), plug_series("no_go_size", "NO-GO", "no_go")],
    budget=[{"kind": "standard", "name": "value of the standard"}, {"kind": "reading", "name": "reading"}],
)


def signed(lab: Lab, player: Any) -> tuple[list[Result], Any]:
    submission = hand_in(player)
    now = submission.submitted_at
    certificate = sign_off(submission=submission, proof=proof(lab.reviewer, now), by=lab.reviewer, now=now)
    return list(submission.results.order_by("pk")), document_of(certificate)


@pytest.fixture(scope="module")
def first_day(request: pytest.FixtureRequest) -> Iterator[Callable[[], Lab]]:
    with made_once(request, traced_lab) as own:
        yield own


@pytest.fixture
def micrometer(lab: Lab) -> Workplace:
    place = Workplace(
        lab, "micrometer", MICROMETER,
        limits={"outside": ("-0.004", "0.004"), "flatness": (None, "0.0009")},
        model={"indication": "digital", "resolution": D("0.001"), "range_low_mm": D(25), "range_high_mm": D(50),
               "functions": ("outside",), "unit": "mm"},
    )  # fmt: skip
    lengths = ["25", "27.5", "30.1", "32.7", "35.3", "37.9", "40", "42.6", "45.2", "47.8", "50"]
    pieces = [Piece(f"{length} mm", length, ("outside",)) for length in lengths]
    place.standard("GB-25", "block-set", pieces)
    return place


def test_a_micrometer_from_start_to_certificate(lab: Lab, micrometer: Workplace) -> None:
    player = micrometer.sit(micrometer.gauge("M-0001"))
    player.look()
    player.room()
    # The zero of this range is read on its setting standard of 25 mm.
    assert isinstance(player.zero("as-found", "0.000"), SetAside)
    player.zero("as-found", "25.001")
    player.zero("set", "25.000")
    lengths = [point for point in player.points() if point.function == "length"]
    assert [point.nominal_mm for point in lengths][:2] == [D(25), D("27.5")] and len(lengths) == 11
    errors = [D(n % 4 - 1) / 1000 for n in range(11)]
    for point, error in zip(lengths, errors, strict=True):
        player.read(point, f"{point.nominal_mm + error:.3f}")
    flat, ratchet = (point for point in player.points() if point.function != "length")
    refused = player.read(flat, "2.25")
    assert isinstance(refused, SetAside) and refused.code == "no-count-of-bands"
    player.read(flat, "2")
    assert isinstance(player.read(ratchet, "perhaps"), SetAside)
    player.read(ratchet, "yes")
    for row in SetAside.objects.filter(resolved_at=None):
        row.resolved_at, row.resolved_by, row.resolution = player.now, "technician", "not a reading"
        row.save()
    player.zero("closing", "25.001")
    results, document = signed(lab, player)
    # Error is what was read less the block with its deviation of +0.1 µm.
    found = [row.value_mm for row in results if row.kind == Result.Kind.ERROR]
    assert found == [error - D("0.0001") for error in errors]
    assert {row.function for row in results} == {"outside", "flatness", "fit"}
    flatness = next(row for row in results if row.function == "flatness")
    assert (flatness.value_mm, flatness.verdict) == (D("0.00058"), "in_tolerance")
    fit = next(row for row in results if row.kind == Result.Kind.ATTRIBUTE)
    assert (fit.U_mm, fit.budget, fit.verdict) == (None, "", "in_tolerance")
    # The closing zero was a step off, so the zero's half-width is that step.
    rows = json.loads(results[0].budget)["calibration"]["rows"]
    assert next(float(row["size"]) for row in rows if row["name"] == "zero") == pytest.approx(0.001)
    lines = [line for stage in document.stages for line in stage.lines]
    assert len(lines) == 13
    assert (lines[-1].printed.error, lines[-1].printed.U, lines[-1].k) == ("fits", "–", None)
    assert (lines[-2].name, lines[-2].printed.length) == ("Flatness of the anvil", "–")
    assert document.conformity is not None and document.conformity.findings[0].verdict == "in_tolerance"


def test_what_does_not_fit_is_out(lab: Lab, micrometer: Workplace) -> None:
    player = micrometer.sit(micrometer.gauge("M-0002"))
    [ratchet] = [point for point in player.points() if point.function == "ratchet"]
    player.look()
    player.room()
    player.zero("as-found", "25.000")
    player.zero("set", "25.000")
    player.read(ratchet, "no")
    [found] = [item for item in evaluate_run(player.run) if item.point == ratchet]
    assert (found.verdict, found.within_limits, found.decision) == (Verdict.OUT_OF_TOLERANCE, False, None)


def test_an_indicator_is_judged_by_what_its_points_say_together(lab: Lab) -> None:
    place = Workplace(
        lab, "indicator", INDICATOR,
        limits={"span_up": (None, "0.015"), "span": (None, "0.02"), "section": (None, "0.01"),
                "hysteresis": (None, "0.006"), "repeatability": (None, "0.01")},
        model={"indication": "dial", "resolution": D("0.01"), "range_low_mm": D(0), "range_high_mm": D(10),
               "functions": ("travel",), "unit": "mm"},
    )  # fmt: skip
    place.standard("IT-01", "tester", [Piece("spindle", "25", ("travel",), continuous=True)])
    player = place.sit(place.gauge("D-0001"))
    player.look()
    player.room()
    player.zero("as-found", "0")
    player.zero("set", "0")
    travel = [point for point in player.points() if point.function == "travel"]
    assert [point.direction for point in travel] == ["up"] * 7 + ["down"] * 7
    steps = [0, 1, 1, 0, -1, 0, 0] + [0, 1, 0, 0, 1, 1, 0]
    for point, off in zip(travel, steps, strict=True):
        read_at(player, point, D(off) / 100, INDICATOR)
    [again] = [point for point in player.points() if point.function == "again"]
    for raw in ("5.00", "5.01", "5.00", "5.00", "5.00"):
        player.read(again, raw)
    player.zero("closing", "0")
    results, document = signed(lab, player)
    by_name = {row.name: row for row in results if row.name}
    errors = np.array(steps) / 100
    up = errors[:7]
    assert float(by_name["Error span, going up"].value_mm) == pytest.approx(np.ptp(up))
    assert float(by_name["Error span, both directions"].value_mm) == pytest.approx(np.ptp(errors))
    hysteresis = np.abs(up - errors[7:][::-1]).max()
    assert float(
        by_name["Travel: largest difference between going up and coming down"].value_mm
    ) == pytest.approx(hysteresis)
    # Within any millimetre going up: 0 and 1 mm, 1 and 2, 2 and 3.
    section = by_name["Travel: largest minus smallest error over a short section"]
    assert float(section.value_mm) == pytest.approx(np.abs(np.diff(up[:4])).max())
    assert by_name["Repeatability: largest minus smallest of the readings at one point"].value_mm == D("0.01")
    # Points without limits of their own are listed, without a verdict.
    single = [row for row in results if not row.name]
    assert len(single) == 15 and {row.verdict for row in single} == {""}
    assert by_name["Error span, going up"].verdict == "out_of_tolerance"
    assert by_name["Error span, both directions"].verdict == "in_tolerance"
    outcome = outcome_of(results[0].submission)
    assert outcome.as_left == Verdict.OUT_OF_TOLERANCE and outcome.as_found_within_limits is False
    assert (outcome.unmeasured, outcome.functions["travel"]) == ((), Verdict.OUT_OF_TOLERANCE)
    assert document.not_measured == ()
    # The same spindle at one length cancels; at two lengths it doesn't.
    shares = {name: _names(row) for name, row in by_name.items()}
    assert (
        shares["Repeatability: largest minus smallest of the readings at one point"]["value of the standard"]
        == 0
    )
    assert shares["Error span, both directions"]["zero"] == 0
    lines = [line for stage in document.stages for line in stage.lines]
    assert sum(bool(line.verdict) for line in lines) == 5 and len(lines) == 20


def test_a_travel_on_blocks_alone_is_tried_with_them_when_its_session_opens(lab: Lab) -> None:
    rule = {"kind": "simple", "view": "test_value", "min_ratio": "4"}
    content = text_of(json.loads(INDICATOR)["series"], rule=rule, zero=json.loads(INDICATOR)["zero"])
    place = Workplace(
        lab, "indicator", content,
        limits=dict.fromkeys(("span_up", "span", "section", "hysteresis", "repeatability"), (None, "0.0005")),
        model={"indication": "digital", "resolution": D("0.01"), "range_low_mm": D(0), "range_high_mm": D(10),
               "functions": ("travel",), "unit": "mm"}, rule=rule,
    )  # fmt: skip
    gauge = place.gauge("D-0002")
    # At approval the travel is tried on one spindle, whose value cancels in a span.
    assert [trial.why for trial in require_workable(parse(content), place.family, MORNING)] == [""] * 5
    blocks = [Piece(f"{size} mm", size, ("travel",)) for size in ("1", "2", "3", "5", "7", "10")]
    place.standard("GB-10", "block-set", blocks)
    # Two blocks of U = 0.1 µm, and 9 mm of steel 0.3 K apart: half of a span of 0.5 µm is less than four times that.
    with pytest.raises(AccuracyRatioTooLow) as refusal:
        place.sit(gauge)
    U_um = 2 * np.hypot(0.05 * np.sqrt(2), 9 * 0.0115 * 0.3 / np.sqrt(3))
    assert refusal.value.data["found"] == pytest.approx(0.25 / U_um, rel=1e-3)
    place.standard("IT-01", "tester", [Piece("spindle", "25", ("travel",), continuous=True)])
    opened = open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=MORNING + timedelta(hours=3))
    lengths = opened.runs.get().points.filter(function="travel", direction="up")
    assert [point.nominal_mm for point in lengths] == [0, 1, 2, 3, 5, 7, 10]


def _names(result: Result) -> dict[str, float]:
    rows = json.loads(result.budget)["calibration"]["rows"]
    return {row["name"]: float(row["contribution_mm"]) for row in rows}


def test_a_plug_is_judged_member_by_member(lab: Lab) -> None:
    place = Workplace(
        lab, "plug", PLUG,
        limits={"go": ("-0.001", "0.004"), "no_go": ("-0.002", "0.002"), "roundness": (None, "0.0012"),
                "taper": (None, "0.0015")},
        model={"indication": "none", "resolution": D("0.0001"), "range_low_mm": D(12), "range_high_mm": D("12.018"),
               "functions": ("size",), "unit": "mm"},
    )  # fmt: skip
    place.standard("RB-12", "block-set", [Piece("12 mm", "12", ("size",))])
    gauge = place.gauge("P-0001", members=[("GO", "12.000"), ("NO-GO", "12.018")])
    player = place.sit(gauge)
    player.look()
    player.room()
    points = player.points()
    assert [point.member.label for point in points if point.member] == ["GO"] * 6 + ["NO-GO"] * 6
    # Sizes in µm above nominal: GO is 0.4 µm out of round at the entry, NO-GO a little small.
    sizes = [1.2, 2.0, 1.4, 1.4, 0.9, 1.1] + [-0.5, -0.7, -0.4, -0.6, -0.5, -0.6]
    for point, size in zip(points, sizes, strict=True):
        # The comparator shows the plug less the block of 12.0001 mm.
        shown = float(point.nominal_mm) * 1000 + size - 12000.1
        player.read(point, f"{shown:.1f}")
    assert open_items(player.session) == ()
    results, document = signed(lab, player)
    single = [row for row in results if row.kind == Result.Kind.DEVIATION]
    assert [float(row.value_mm * 1000) for row in single] == pytest.approx(sizes)
    assert [row.function for row in single] == ["go"] * 6 + ["no_go"] * 6
    common = {row.name: float(row.value_mm * 1000) for row in results if row.name}
    go = np.array(sizes[:6]).reshape(3, 2)  # section by angle
    assert common[
        "GO size: half of the largest difference of two directions in one section, GO"
    ] == pytest.approx(np.ptp(go, axis=1).max() / 2)
    assert common["GO size: largest difference between the sections, GO"] == pytest.approx(
        np.ptp(go, axis=0).max()
    )
    assert len(common) == 4
    assert {row.verdict for row in results} == {"in_tolerance"}
    lines = [line for stage in document.stages for line in stage.lines]
    assert lines[0].name == "GO size, entry, 0°"
    assert (lines[0].printed.length, lines[0].printed.reference, lines[0].printed.reading) == (
        "12.0000", "12.00010", "12.0012",
    )  # fmt: skip
    assert (
        "Out of round" in document.statements.measurand
        and "larger than its nominal" in document.statements.sign
    )


def test_a_void_point_taken_again_keeps_its_member_and_place(lab: Lab, micrometer: Workplace) -> None:
    player = micrometer.sit(micrometer.gauge("M-0003"))
    player.look()
    player.room()
    player.zero("as-found", "25.000")
    player.zero("set", "25.000")
    first = player.points()[0]
    player.read(first, "25.000")
    player.zero("closing", "25.004")
    again = Point.objects.get(run=player.run, sequence=first.sequence, attempt=2)
    assert (again.function, again.nominal_mm, again.place) == ("length", first.nominal_mm, first.place)


def test_a_tablet_takes_the_next_pages_along_and_asks_for_more(
    lab: Lab, micrometer: Workplace, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    player = micrometer.sit(micrometer.gauge("M-0004"))
    player.look()
    player.room()
    player.zero("as-found", "25.000")
    player.zero("set", "25.000")
    client.force_login(lab.technician)
    address = f"/bench/session/{player.session.pk}/ahead/"
    whole = client.get(address).content.decode()
    # Eleven lengths, flatness, ratchet, closing zero.
    assert (whole.count("<template data-ahead"), "data-more" in whole) == (14, False)
    monkeypatch.setattr("instruments.measuring.views.session.MOST_AHEAD", 3)
    some = client.get(address).content.decode()
    assert (some.count("<template data-ahead"), "data-more" in some) == (3, True)
    assert "zero closing" not in some


BLOCK = text_of(
    [
        {
            "code": "size", "name": "Size", "serves": "size", "reads": "difference", "lengths": {"kind": "nominal"},
            "on": {"unit": "µm", "step": "0.01"}, "order": "RGGR", "repeats": 3,
            "reading_rule": "Reference, block, block, reference.",
            "results": [{"kind": "deviation", "limit": "size"}],
        },
    ],
    budget=[{"kind": "standard", "name": "value of the standard"}, {"kind": "reading", "name": "reading"}],
)  # fmt: skip


def test_a_block_is_compared_in_rounds_whose_drift_falls_out(lab: Lab) -> None:
    place = Workplace(
        lab, "blocks", BLOCK, limits={"size": ("-0.001", "0.001")},
        model={"indication": "none", "resolution": D("0.0001"), "range_low_mm": D(1), "range_high_mm": D(20),
               "functions": ("size",), "unit": "mm"},
    )  # fmt: skip
    place.standard("RB-20", "block-set", [Piece("20 mm", "20", ("size",))])
    player = place.sit(place.gauge("B-0001"))
    player.look()
    player.room()
    [point] = player.points()
    # The comparator drifts by 0.02 µm from reading to reading; the block is 0.35, 0.37 and 0.33 µm above the reference.
    shown: list[float] = []
    for above in (0.35, 0.37, 0.33):
        for letter in "RGGR":
            shown.append(round(0.02 * len(shown) + (above if letter == "G" else 0), 2))
    for number, value in enumerate(shown[:3]):
        bench = bench_of(player.session)
        label = at_point(bench, bench.points[0]).label
        assert label.startswith(
            f"Shown on {'the reference' if number == 0 else 'the gauge'}, reading {number + 1} of 12"
        )
        player.read(point, f"{value:.2f}")
    assert evaluate_run(player.run) == []
    first = point.readings.first()
    assert first is not None
    refused = player.send("strike", reading=first.pk, reason="typing")
    assert isinstance(refused, SetAside) and refused.code == "round-not-broken"
    refused.resolved_at, refused.resolved_by, refused.resolution = player.now, "technician", "kept"
    refused.save()
    for value in shown[3:]:
        player.read(point, f"{value:.2f}")
    [result], document = signed(lab, player)
    # 20.0001 mm is the reference; the mean of the rounds is 0.35 µm.
    assert result.value_mm == D("0.0001") + D("0.00035")
    rows = json.loads(result.budget)["calibration"]["rows"]
    reading = next(row for row in rows if row["name"] == "reading")
    assert float(reading["size"]) == pytest.approx(np.std([0.35, 0.37, 0.33], ddof=1) / np.sqrt(3) / 1000)
    assert float(reading["nu"]) == 2
    [line] = [line for stage in document.stages for line in stage.lines]
    assert line.error_mm == result.value_mm


def test_what_had_no_standard_is_planned_once_it_has(lab: Lab, client: Client) -> None:
    place = Workplace(
        lab, "plug", PLUG, limits={"go": ("-0.001", "0.004"), "no_go": ("-0.002", "0.002"),
                                   "roundness": (None, "0.0012"), "taper": (None, "0.0015")},
        model={"indication": "none", "resolution": D("0.0001"), "range_low_mm": D(12), "range_high_mm": D(13),
               "functions": ("size",), "unit": "mm"},
    )  # fmt: skip
    place.standard("RB-12", "block-set", [Piece("12 mm", "12", ("size",))])
    player = place.sit(place.gauge("P-0002", members=[("GO", "12.000"), ("NO-GO", "12.5")]))
    assert {point.function for point in player.points()} == {"go_size"}
    client.force_login(lab.technician)
    address = f"/bench/session/{player.session.pk}/plan/missing/"
    still = client.post(address, follow=True).content.decode()
    assert "Nothing more can be planned now. NO-GO size (NO-GO): no standard available" in still
    place.standard("RB-13", "block-set", [Piece("12.5 mm", "12.5", ("size",))])
    assert "6 points planned." in client.post(address, follow=True).content.decode()
    assert [point.sequence for point in player.points()] == list(range(1, 13))
    codes = {item.code for item in open_items(player.session)}
    assert "no_go_size-members" in codes, "planned, and not read yet"
    assert "Every function and series has its points." in client.post(address, follow=True).content.decode()
