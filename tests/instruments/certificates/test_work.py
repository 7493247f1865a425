"""The session's own link: authority at each reading, the revision in force on the day, the room or its acceptance.

The conditions are those of ISO/IEC 17025:2017, 6.2.6 (authorised persons), 7.2.1 (valid methods), 6.3.3 (conditions
monitored); which moment counts for each is the laboratory's own, common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from instruments.certificates.work import link_of
from instruments.inventory.models import Gauge
from instruments.measuring.models import Reading, Submission
from instruments.measuring.operations import accept_deviation
from instruments.procedures.content import dump
from instruments.procedures.operations import approve_revision, draft_revision
from labsys.accounts.models import Activity
from labsys.accounts.operations import withdraw_authorisation
from tests import laboratory
from tests.bench import Player
from tests.laboratory import Lab, proof


def _codes(submission: Submission) -> list[str]:
    return [fault.code for fault in link_of(submission.session).faults]


def _withdraw(lab: Lab, at: datetime) -> None:
    withdraw_authorisation(
        person=lab.technician, activity=Activity.MEASURE, family=lab.family, reason="never trained",
        by=laboratory.SETUP, now=at,
    )  # fmt: skip


def test_all_three_hold(submission: Submission) -> None:
    found = link_of(submission.session)
    assert found.holds is True
    assert "The technician authorised at every reading, CAL-1 revision 1 in force" in found.sentence
    assert "the room within its limits" in found.sentence


def test_a_session_without_readings_is_not_called_good(player: Player) -> None:
    assert link_of(player.session).holds is None


@pytest.mark.parametrize("at_reading", [0, 5, -1])
def test_authority_lost_before_any_one_reading_breaks_it(
    submission: Submission, lab: Lab, at_reading: int
) -> None:
    readings = list(Reading.objects.filter(point__run__session=submission.session).order_by("measured_at"))
    _withdraw(lab, readings[at_reading].measured_at)
    found = link_of(submission.session)
    assert found.holds is False
    assert [fault.code for fault in found.faults] == ["F16"]
    assert "was not authorised to measure Caliper on 2025-06-03" in found.sentence


def test_authority_lost_after_the_last_reading_does_no_harm(submission: Submission, lab: Lab) -> None:
    last = Reading.objects.filter(point__run__session=submission.session).latest("measured_at").measured_at
    _withdraw(lab, last + timedelta(seconds=1))
    assert link_of(submission.session).holds is True


@pytest.mark.parametrize(("minutes", "codes"), [(0, ["F17"]), (1, [])])
def test_a_revision_replaced_by_the_opening_is_not_in_force(
    submission: Submission, lab: Lab, minutes: int, codes: list[str]
) -> None:
    now = submission.session.opened_at + timedelta(minutes=minutes)
    text = dump(laboratory.shipped(digits=1))
    draft = draft_revision(
        procedure=lab.revision.procedure, content_text=text, change="one digit of U", by=lab.manager, now=now
    )
    approve_revision(
        revision=draft, seen_sha256=draft.content_sha256, proof=proof(lab.reviewer, now), by=lab.reviewer, now=now
    )  # fmt: skip
    assert _codes(submission) == codes


@pytest.mark.parametrize(("room", "code"), [
    ({"temperature_c": "26.0"}, "temperature-out"),
    ({"humidity_percent": "95"}, "humidity-out"),
])  # fmt: skip
def test_a_room_outside_its_limits_breaks_it_until_the_reviewer_accepts(
    sit: Callable[..., Player], gauge: Gauge, lab: Lab, room: dict[str, str], code: str
) -> None:
    player = sit(gauge)
    player.begin()
    player.room(**room)
    player.read_off()
    broken = link_of(player.session)
    assert (broken.holds, [fault.code for fault in broken.faults]) == (False, ["F15"])
    accept_deviation(
        session=player.session, rule=code, reason="the gauge was soaked beside the blocks", owner_consent="",
        by=lab.reviewer, now=player.now,
    )  # fmt: skip
    found = link_of(player.session)
    assert found.holds is True
    assert "accepted by The reviewer: the gauge was soaked beside the blocks" in found.sentence
