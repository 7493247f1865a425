"""What is asked before it counts, what answers for it, and reasons that may not be missing."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from instruments.measuring.models import Condition, PointReference, Reading, SetAside, ZeroCheck
from instruments.measuring.operations import (
    add_point,
    resolve_set_aside,
    retake_point,
    void_point,
    void_session,
)
from instruments.measuring.operations.gate import ReasonMissing
from instruments.measuring.operations.points import ElementServesNot
from standards.register.models import ElementValue
from standards.register.operations import ValueData, mark_accepted, record_calibration
from standards.register.queries import StandardOutOfRange
from tests import laboratory
from tests.bench import Player
from tests.laboratory import Lab


def waiting(player: Player) -> list[str]:
    rows = SetAside.objects.filter(arrival__session=player.session, resolved_at=None)
    return list(rows.values_list("code", flat=True))


def test_a_zero_far_off_is_asked_about_and_counts_once_confirmed(player: Player) -> None:
    asked = player.zero("as-found", "25.00")
    assert isinstance(asked, SetAside)
    assert asked.sentence == "25.00 mm is far from zero. Are the faces closed on each other?"
    taken = player.send("zero", run=player.run.pk, kind="as-found", raw="25.00", confirmed=True)
    assert isinstance(taken, ZeroCheck)
    assert waiting(player) == []


def test_a_zero_read_again_answers_for_the_one_set_aside(player: Player) -> None:
    assert isinstance(player.zero("as-found", "o.00"), SetAside)
    assert isinstance(player.zero("set", "o.00"), SetAside)
    player.zero("as-found", "0.01")
    assert waiting(player) == ["not-a-number"], "the set zero is another thing and stays in sight"
    assert SetAside.objects.get(resolved_at__isnull=False).resolution == "read again: 0.01"


def test_a_room_noted_again_answers_for_the_one_set_aside(player: Player) -> None:
    assert isinstance(player.room("202"), SetAside)
    assert isinstance(player.room("20.2"), Condition)
    assert waiting(player) == []


def test_a_reading_of_another_point_answers_for_nothing(player: Player) -> None:
    player.begin()
    first, second = player.points()[:2]
    player.read(first, "4O.3")
    player.read(second, f"{second.nominal_mm.normalize():f}")
    assert waiting(player) == ["not-a-number"]
    player.read(first, f"{first.nominal_mm.normalize():f}")
    assert waiting(player) == []
    assert Reading.objects.count() == 2


def test_what_is_left_out_or_answered_for_says_why(player: Player) -> None:
    player.begin()
    point = player.points()[0]
    player.read(point, "x")
    common: dict[str, Any] = {"by": player.by, "now": player.now}
    with pytest.raises(ReasonMissing, match="leaving a point out needs a reason"):
        void_point(point=point, reason=" ", **common)
    with pytest.raises(ReasonMissing, match="taking a point again"):
        retake_point(point=point, elements=None, reason="", **common)
    with pytest.raises(ReasonMissing, match="voiding a session"):
        void_session(session=player.session, reason="", **common)
    with pytest.raises(ReasonMissing, match="set aside"):
        resolve_set_aside(set_aside=SetAside.objects.get(), resolution="", **common)


def test_an_element_made_for_another_function_is_refused(lab: Lab, player: Player) -> None:
    ring = lab.rings.elements.get(label="5 mm")
    with pytest.raises(ElementServesNot, match="SR-01 5 mm does not serve outside"):
        add_point(
            run=player.run,
            function="outside",
            place="tips",
            elements=[(ring, 1)],
            by=player.by,
            now=player.now,
        )


def test_a_block_keeps_its_value_when_another_block_alone_is_calibrated(lab: Lab, player: Player) -> None:
    """A certificate for one replaced block leaves the values of the rest of its set in force."""
    replaced, kept = (lab.blocks.elements.get(label=label) for label in ("20 mm", "60 mm"))
    calibration = record_calibration(
        standard=lab.blocks,
        calibrated_on=player.now.date(),
        values=(ValueData(replaced, Decimal("0.0002"), Decimal("0.0001"), Decimal(2)),),
        evidence="certificate:2",
        by=laboratory.SETUP,
        now=player.now,
    )
    mark_accepted(calibration=calibration, by=laboratory.SETUP, now=player.now, reason="one block replaced")
    for element, deviation in ((replaced, Decimal("0.0002")), (kept, Decimal(0))):
        point = add_point(
            run=player.run,
            function="outside",
            place="",
            elements=[(element, 1)],
            by=player.by,
            now=player.now,
        )
        assert PointReference.objects.get(point=point).deviation_mm == deviation


def test_an_element_without_a_value_is_refused(lab: Lab, player: Player) -> None:
    element = lab.blocks.elements.get(label="30 mm")
    element.pk, element.label = None, "35 mm"
    element.save()
    assert not ElementValue.objects.filter(element=element).exists()
    with pytest.raises(StandardOutOfRange, match="35 mm of GB-01 had no accepted value"):
        add_point(
            run=player.run,
            function="outside",
            place="",
            elements=[(element, 1)],
            by=player.by,
            now=player.now,
        )
