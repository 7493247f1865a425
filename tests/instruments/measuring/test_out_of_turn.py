"""What can't mean what it says is kept and set aside: zeros out of turn, times outside a stage, odd texts."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from instruments.measuring.models import Arrival, Deviation, Reading, SetAside, ZeroCheck
from instruments.measuring.open_items import open_items
from instruments.measuring.operations import accept_deviation, add_point, begin_as_left, submit
from instruments.measuring.operations.points import ElementTwice, PointBeyondGauge
from instruments.measuring.operations.settling import SETTLERS
from instruments.measuring.operations.stages import AdjustmentData
from instruments.measuring.operations.submitting import StillOpen
from tests.bench import Player
from tests.laboratory import Lab


def codes(player: Player) -> set[str]:
    return {item.code for item in open_items(player.session)}


def test_the_zero_as_found_cannot_be_read_once_it_was_set(lab: Lab, player: Player) -> None:
    player.look()
    player.room()
    player.zero("set")
    found = player.zero("as-found")
    assert isinstance(found, SetAside)
    assert found.code == "zero-already-set"
    assert "zero-as-found" in codes(player)
    (missing,) = [item for item in open_items(player.session) if item.code == "zero-as-found"]
    assert missing.deviable, "nobody can mend it at the bench any more"
    accept_deviation(
        session=player.session, rule="zero-as-found", reason="set before it was read", owner_consent="shop lead",
        by=lab.reviewer, now=player.now,
    )  # fmt: skip
    assert "zero-as-found" not in codes(player)


def test_a_zero_is_not_set_again_over_points_that_nobody_verified(player: Player) -> None:
    player.begin()
    player.read_off()
    again = player.zero("set")
    assert isinstance(again, SetAside)
    assert again.code == "zero-not-verified"
    assert f"{len(player.points())} points were read" in again.sentence
    assert ZeroCheck.objects.filter(kind="set").count() == 1
    player.zero("closing")
    assert isinstance(player.zero("set"), ZeroCheck), "verified, so setting it hides nothing"


def test_points_read_before_the_zero_was_set_are_taken_again(player: Player) -> None:
    player.look()
    player.room()
    player.zero("as-found")
    player.read(player.points()[0], "41.30")
    player.zero("set")
    with pytest.raises(StillOpen, match="1 point was read before the zero was set"):
        submit(session=player.session, by=player.by, now=player.now)
    struck = player.send("strike", reading=Reading.objects.get().pk, reason="seating")
    assert not isinstance(struck, SetAside)
    assert "points-before-zero" not in codes(player)


def test_a_value_belongs_to_the_stage_it_was_taken_in(player: Player) -> None:
    player.begin()
    player.read_off(lambda point: 5 if point.function == "outside" else 0)
    player.zero("closing")
    found_point, before = player.points()[0], player.now
    player.now += timedelta(minutes=5)
    data = AdjustmentData(what="gib tightened")
    begin_as_left(session=player.session, adjustment=data, by=player.by, now=player.now)
    late = player.read(found_point, "41.30")
    assert late.code == "stage-ended"
    early = player.send("reading", point=player.points()[0].pk, raw="41.30", measured_at=before.isoformat())
    assert early.code == "measured-before-adjustment"


def test_a_look_that_nobody_asks_for_is_set_aside(player: Player) -> None:
    found = player.send("answer", run=player.run.pk, code="no such look", answer="good")
    assert found.code == "unknown-answer"


@pytest.mark.parametrize(
    ("kind", "fields", "said"),
    [
        ("reading", {"raw": "41.30", "source": "dream"}, "typed"),
        ("reading", {"raw": "41.30\x00"}, "a text"),
        ("reading", {"raw": "41.30\ud800"}, "a text"),
        ("strike", {"reason": "seating", "note": "x" * 201}, "at most 200"),
    ],
)
def test_a_text_that_cannot_be_kept_is_set_aside_with_a_sentence(
    player: Player, kind: str, fields: dict[str, str], said: str
) -> None:
    player.begin()
    if kind == "strike":
        reading = player.read(player.points()[0], "41.30")
        found = player.send(kind, reading=reading.pk, **fields)
    else:
        found = player.send(kind, point=player.points()[0].pk, **fields)
    assert isinstance(found, SetAside)
    assert said in found.sentence
    assert Arrival.objects.filter(pk=found.arrival_id).exists()


def test_a_thermometer_out_of_calibration_is_not_believed(lab: Lab, player: Player) -> None:
    found = player.send(
        "condition", run=player.run.pk, temperature_c="20.1", humidity_percent="45", sensor=lab.blocks.pk
    )
    assert isinstance(found, SetAside)
    assert "thermometer" in found.sentence


def test_a_sensor_outside_what_a_room_can_have_is_set_aside(player: Player) -> None:
    found = player.send(
        "condition",
        run=player.run.pk,
        temperature_c="20.1",
        standard_temperature_c="200",
        humidity_percent="45",
    )
    assert isinstance(found, SetAside)
    assert "60 °C" in found.sentence


def test_the_same_rule_broken_further_is_open_again(lab: Lab, player: Player) -> None:
    player.look()
    player.room("24.5")
    player.zero("as-found")
    player.zero("set")
    accept_deviation(
        session=player.session, rule="temperature-out", reason="cooling failed", owner_consent="shop lead agreed",
        by=lab.reviewer, now=player.now,
    )  # fmt: skip
    assert "temperature-out" not in codes(player)
    player.room("29.5")
    assert "temperature-out" in codes(player), "what was accepted is what the reviewer read"
    accept_deviation(
        session=player.session, rule="temperature-out", reason="still failing", owner_consent="shop lead agreed",
        by=lab.reviewer, now=player.now,
    )  # fmt: skip
    assert Deviation.objects.filter(rule="temperature-out").count() == 2
    assert "temperature-out" not in codes(player)


def test_a_value_that_no_check_foresaw_is_kept_and_stands_in_nobodys_way(
    player: Player, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ArithmeticError(Decimal("NaN"))

    monkeypatch.setitem(SETTLERS, "reading", broken)
    player.begin()
    found = player.read(player.points()[0], "41.30")
    assert isinstance(found, SetAside)
    assert found.code == "not-keepable"
    assert f"arrival {found.arrival_id}" in found.sentence


@pytest.mark.parametrize(("label", "count", "refusal"), [(50, 2, ElementTwice), (100, 1, None)])
def test_one_piece_is_in_a_set_up_once(
    lab: Lab, player: Player, label: int, count: int, refusal: type[Exception] | None
) -> None:
    element = lab.blocks.elements.get(nominal_mm=label)
    elements = [(element, count)]

    def add() -> object:
        return add_point(
            run=player.run,
            function="outside",
            place="middle",
            elements=elements,
            by=player.by,
            now=player.now,
        )

    if refusal is None:
        assert add()
    else:
        with pytest.raises(refusal):
            add()


def test_a_point_lies_within_the_range_of_the_gauge(lab: Lab, player: Player) -> None:
    elements = [(element, 1) for element in lab.blocks.elements.filter(nominal_mm__gte=50)]
    with pytest.raises(PointBeyondGauge, match="measures from 0 mm to 150 mm"):
        add_point(
            run=player.run,
            function="outside",
            place="middle",
            elements=elements,
            by=player.by,
            now=player.now,
        )
