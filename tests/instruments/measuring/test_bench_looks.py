"""The bench's pages around the readings in Chromium: looks with photos, the room with its log, the trial of a cable."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from instruments.inventory.models import Gauge
from instruments.inventory.pictures import look_at
from instruments.measuring.open_items import looks_of
from instruments.measuring.operations import PhotoData, add_photos, open_session
from instruments.procedures.queries import content_of
from tests import laboratory, looking
from tests.bench import MORNING, Player
from tests.instruments.measuring.pictures import picture
from tests.instruments.measuring.test_room_log import Logger
from tests.laboratory import Lab

MINUTE = timedelta(minutes=1)


@pytest.fixture
def hasty(gauge: Gauge, bring: Callable[..., Gauge], lab: Lab, settings: Any, tmp_path: Any) -> Player:
    """A session opened twenty minutes after the gauge came, with a photo at the first look, which was not good."""
    settings.MEDIA_ROOT = tmp_path / "files"
    now = MORNING + 20 * MINUTE
    player = Player(
        open_session(gauge=bring(gauge), place=lab.bench, by=lab.technician, now=now), lab.technician, now
    )
    looks = looks_of(player.run, content_of(player.session.revision))
    for look in (looks[0].code, ""):
        add_photos(
            run=player.run,
            pictures=[look_at(picture("PNG"), "x")],
            data=PhotoData(look, "nick near the tip"),
            by=player.by,
            now=now,
        )
    return player


def _logged(lab: Lab) -> None:
    sensor = laboratory._standard(
        "T-01", "thermometer", "Room thermometer", [laboratory._block("probe", laboratory.D(1))], lab.bench,
        lab.manager, laboratory.START, deviation="0",
    )  # fmt: skip
    Logger(sensor, lab).steady(0, 10)


@pytest.mark.browser
def test_the_pages_in_a_browser(hasty: Player, lab: Lab, client: Client, chromium_path: str) -> None:
    _logged(lab)
    other = laboratory.caliper_gauge(lab, hasty.session.gauge.model, tag="C-0002")
    home = f"/bench/session/{hasty.session.pk}/"
    with time_machine.travel(MORNING + 45 * MINUTE, tick=False):
        client.force_login(lab.technician)
        pages = looking.make(
            client,
            [
                "/bench/",
                "/bench/cable/",
                home,
                f"{home}?step=room",
                f"{home}photos/",
                f"{home}laid/",
                f"{home}early/",
                f"/sessions/{hasty.session.pk}/",
                f"/gauges/{other.pk}/receive/",
                "/help/bench/",
            ],
        )
        sent = {"sent": "ß0.01", "ended": "nothing", "stroke_ms": "3"}
        pages["/bench/cable/?tried"] = looking.Made.of(client.post("/bench/cable/", sent))
        parts = {address: looking.Made.of(client.get(address)) for address in _parts(pages)}
        device = json.dumps({"device": "tablet"})
        parts["/bench/grant/"] = looking.Made.of(
            client.post("/bench/grant/", device, content_type="application/json")
        )
    assert looking.complaints(pages, chromium_path, parts=parts) == []


def _parts(pages: dict[str, looking.Made]) -> set[str]:
    """Find the addresses of what the pages ask for: small pictures, and what is fetched ahead."""
    text = b"".join(page.body for page in pages.values()).decode()
    return set(re.findall(r'(?:src|data-ahead)="(/[a-z-]+/[^"]*(?:preview\.jpg|/ahead/))"', text))
