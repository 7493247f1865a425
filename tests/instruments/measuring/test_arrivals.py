"""What arrives is kept once and judged once, however often it is sent and whatever dies in between."""

from __future__ import annotations

import json
import threading
from datetime import timedelta

import pytest
from django.db import connections

from instruments.measuring.arriving import unsettled
from instruments.measuring.envelope import Envelope
from instruments.measuring.models import Arrival, Reading, SetAside
from instruments.measuring.operations import deposit, settle_leftovers, submit, take
from instruments.measuring.operations.submitting import StillOpen
from tests import laboratory
from tests.bench import MORNING, Player
from tests.laboratory import Lab


def envelope(player: Player, raw: str = "41.30") -> Envelope:
    """Make an envelope with a reading at the first point."""
    text = json.dumps({"point": player.points()[0].pk, "raw": raw})
    return Envelope("same-id", player.session.pk, "reading", text, entered_at=player.now)


@pytest.mark.django_db(transaction=True)
def test_eight_sends_at_once_are_one_reading() -> None:
    from instruments.measuring.operations import open_session
    from instruments.recall.operations import receive

    lab = laboratory.build()
    laboratory.agreed(lab)
    gauge = laboratory.caliper_gauge(lab, laboratory.caliper_model(lab))
    receive(
        gauge=gauge, condition="clean", damaged=False, place=lab.bench, at=MORNING, by=lab.technician, now=MORNING
    )  # fmt: skip
    now = MORNING + timedelta(hours=2)
    player = Player(
        open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=now), lab.technician, now
    )
    sent, ready, taken = envelope(player), threading.Barrier(8), []

    def send() -> None:
        try:
            ready.wait()
            taken.append(take(envelope=sent, by=player.by, now=player.now).pk)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(taken) == 8
    assert len(set(taken)) == 1
    assert (Arrival.objects.count(), Reading.objects.count(), SetAside.objects.count()) == (1, 1, 0)


def test_what_was_kept_and_never_judged_blocks_handing_in_and_is_judged_by_the_sweep(player: Player) -> None:
    player.begin()
    deposit(envelope=envelope(player), by=player.by, now=player.now)
    with pytest.raises(StillOpen, match="kept and not judged yet"):
        submit(session=player.session, by=player.by, now=player.now)
    assert settle_leftovers(now=player.now) == 0, "a young one is in somebody's hands"
    assert settle_leftovers(now=player.now + timedelta(minutes=2)) == 1
    assert not unsettled().exists()
    assert Reading.objects.get().raw == "41.30"


def test_an_unknown_kind_is_kept_and_set_aside(player: Player, lab: Lab) -> None:
    found = player.send("song", text="la")
    assert isinstance(found, SetAside)
    assert found.code == "unknown-kind"
    assert found.arrival.kind == "song"
