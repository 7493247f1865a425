"""The time in the room: counted from the right instant, not waited for only with a reason, said at the time."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from instruments.inventory.models import Gauge
from instruments.inventory.operations import record_custody
from instruments.measuring.models.rooms import SoakNote
from instruments.measuring.open_items import open_items
from instruments.measuring.operations import accept_deviation, go_on_early, note_laid, open_session
from instruments.measuring.operations.gate import ReasonMissing, SessionNotOpen
from instruments.measuring.operations.soaking import LaidAtImpossibleTime
from instruments.measuring.record import record_of
from instruments.measuring.soaking import soak_of
from instruments.procedures.queries import content_of
from labsys.journal.models import JournalEntry
from tests.bench import MORNING, Player
from tests.laboratory import Lab

MINUTE = timedelta(minutes=1)


@pytest.fixture
def hasty(gauge: Gauge, bring: Callable[..., Gauge], lab: Lab) -> Player:
    """Somebody who opens a session twenty minutes after the gauge came; the procedure asks for sixty."""
    now = MORNING + 20 * MINUTE
    session = open_session(gauge=bring(gauge), place=lab.bench, by=lab.technician, now=now)
    return Player(session, lab.technician, now)


def short(player: Player) -> list[str]:
    return [item.sentence for item in open_items(player.session) if item.code == "soak-short"]


def test_who_waits_in_the_session_has_waited(hasty: Player) -> None:
    hasty.look()
    hasty.room()
    assert short(hasty) == [], "nothing was read yet"
    hasty.now = MORNING + 59 * MINUTE
    hasty.zero("as-found")
    assert short(hasty) == []


def test_the_first_reading_ends_it_to_the_minute(hasty: Player) -> None:
    hasty.room()
    hasty.now = MORNING + 58 * MINUTE
    hasty.zero("as-found")
    assert short(hasty) == ["The gauge had 59 of 60 minutes to reach the room."]


def test_it_counts_from_when_the_gauge_was_laid_beside_the_standards(hasty: Player) -> None:
    note_laid(session=hasty.session, since=MORNING + 15 * MINUTE, by=hasty.by, now=hasty.now)
    hasty.room()
    hasty.now = MORNING + 70 * MINUTE
    hasty.zero("as-found")
    assert short(hasty) == ["The gauge had 56 of 60 minutes to reach the room."]


def test_a_step_of_its_way_before_the_session_counts_too(
    gauge: Gauge, bring: Callable[..., Gauge], lab: Lab
) -> None:
    bring(gauge)
    at = MORNING + 30 * MINUTE
    record_custody(gauge=gauge, kind="soaking", place=lab.bench, at=at, by=lab.technician, now=at)
    session = open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=at + MINUTE)
    soak = soak_of(session.runs.get(), content_of(session.revision))
    assert (soak.began_at, soak.is_laid) == (at, True)
    assert soak.left(at + 59 * MINUTE) == MINUTE
    assert soak.left(at + 61 * MINUTE) == timedelta(0)


@pytest.mark.parametrize("minutes", [-1, 21])
def test_it_is_not_laid_down_before_it_came_or_later_than_now(hasty: Player, minutes: int) -> None:
    since = MORNING + minutes * MINUTE
    with pytest.raises(LaidAtImpossibleTime, match="when the gauge was received"):
        note_laid(session=hasty.session, since=since, by=hasty.by, now=hasty.now)


def test_going_on_early_is_said_with_its_reason_and_accepted_by_that_sentence(
    hasty: Player, lab: Lab
) -> None:
    with pytest.raises(ReasonMissing, match="going on before the gauge has the room's temperature"):
        go_on_early(session=hasty.session, reason=" ", by=hasty.by, now=hasty.now)
    hasty.look()
    hasty.room()
    reason = "it came from the room next door"
    go_on_early(session=hasty.session, reason=reason, by=hasty.by, now=hasty.now)
    (sentence,) = short(hasty)
    assert sentence.endswith(f"of 60 minutes to reach the room. Going on before, The technician: {reason}")
    hasty.zero("as-found")
    (sentence,) = short(hasty)
    accept_deviation(
        session=hasty.session, rule="soak-short", reason="small gauge", owner_consent="", by=lab.reviewer, now=hasty.now
    )  # fmt: skip
    assert short(hasty) == []
    entry = JournalEntry.objects.filter(act="measuring.go-on-early", outcome="done").get()
    assert entry.reason == reason


def test_the_record_tells_of_it_only_where_something_was_said(hasty: Player) -> None:
    assert "soak" not in json.loads(record_of(hasty.session))
    note_laid(session=hasty.session, since=MORNING, by=hasty.by, now=hasty.now)
    (told,) = json.loads(record_of(hasty.session))["soak"]
    assert (told["kind"], told["reason"]) == ("laid", "")


def test_nothing_is_said_after_handing_in(player: Player) -> None:
    player.begin()
    player.read_off()
    player.finish()
    with pytest.raises(SessionNotOpen):
        go_on_early(session=player.session, reason="x", by=player.by, now=player.now)


@pytest.fixture
def page(lab: Lab, client: Client, hasty: Player) -> Any:
    """Look at pages of the session so many minutes after the gauge came."""
    client.force_login(lab.technician)

    def look(minutes: float, path: str = "", sent: Any = None) -> str:
        with time_machine.travel(MORNING + minutes * MINUTE, tick=False):
            address = f"/bench/session/{hasty.session.pk}/{path}"
            answer = client.get(address) if sent is None else client.post(address, sent, follow=True)
        return answer.content.decode()

    return look


def test_the_page_counts_down_and_keeps_to_the_room_until_then(hasty: Player, page: Any) -> None:
    hasty.look()
    hasty.room()
    shown = page(25)
    assert 'data-soak-left="2100"' in shown
    assert "35 min" in shown
    assert "Go on before the time is up" in shown
    assert "Next: Zero found" not in shown
    assert "The time is up" in page(60, "?step=room")
    assert 'id="raw"' in page(60)


def test_going_on_early_by_the_page(hasty: Player, page: Any) -> None:
    hasty.look()
    hasty.room()
    assert "This field is required" in page(25, "early/", {"reason": ""})
    assert 'id="raw"' in page(25, "early/", {"reason": "urgent"})
    assert SoakNote.objects.get().reason == "urgent"
    shown = page(26, "?step=room")
    assert "Going on before, The technician" in shown
    assert "Go on before the time is up" not in shown


def test_a_reading_taken_early_asks_for_the_reason_afterwards(hasty: Player, page: Any) -> None:
    hasty.look()
    hasty.room()
    hasty.zero("as-found")
    shown = page(50, "?step=room")
    assert "of 60 minutes when it was first read" in shown
    assert "Note the reason" in shown
    assert "of 60 minutes to reach the room" in page(50), "said at the next reading"
    page(50, "early/", {"reason": "urgent"})
    assert short(hasty)[0].endswith("The technician: urgent")


def test_laid_down_by_the_page(hasty: Player, page: Any) -> None:
    shown = page(25, "laid/", {"since": "2025-06-03T07:10"})
    assert "It lies beside the standards since" in shown
    assert 'data-soak-left="2700"' in shown
    assert "Expected a time from 2025-06-03 07:00" in page(25, "laid/", {"since": "2025-06-03T06:10"})
