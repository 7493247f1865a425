"""The list of sessions: what its address narrows, sorts and exports."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from instruments.inventory.models import Gauge
from instruments.measuring.models import Session
from tests import laboratory
from tests.bench import MORNING, Player
from tests.laboratory import Lab


@pytest.fixture
def three(lab: Lab, gauge: Gauge, sit: Callable[..., Player]) -> list[Session]:
    """Three sessions on three days: one submitted, two open."""
    found = []
    for number, tag in enumerate(("C-0001", "C-0002", "D-0003")):
        one = gauge if number == 0 else laboratory.caliper_gauge(lab, gauge.model, tag=tag)
        player = sit(one, at=MORNING + timedelta(days=number))
        if number == 0:
            player.begin()
            player.read_off()
            player.finish()
        found.append(player.session)
    return found


def listed(client: Client, query: str) -> list[int]:
    """Give the numbers of the sessions of a list, in its order."""
    answer = client.get(f"{reverse('sessions')}?as=csv&{query}")
    text = b"".join(answer.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    return [int(line.split(",")[0]) for line in text.splitlines()[1:] if line[0].isdigit()]


@pytest.mark.parametrize(
    ("query", "places"),
    [
        ("", [2, 1, 0]),
        ("order=opened", [0, 1, 2]),
        ("tag=c-000&order=gauge", [0, 1]),
        ("state=submitted", [0]),
        ("state=open&order=session", [1, 2]),
        ("opened_from=2025-06-04&opened_to=2025-06-04", [1]),
        ("opened_to=2025-06-03", [0]),
        ("by=technician&tag=D", [2]),
        ("by=nobody", []),
        ("family=caliper&order=session", [0, 1, 2]),
    ],
)
def test_the_address_narrows_and_sorts(
    lab: Lab, client: Client, three: list[Session], query: str, places: list[int]
) -> None:
    client.force_login(lab.auditor)
    assert listed(client, query) == [three[place].pk for place in places]


def test_a_filter_that_makes_no_sense_says_so_and_lists_nothing(
    lab: Lab, client: Client, three: list[Session]
) -> None:
    client.force_login(lab.auditor)
    page = client.get(f"{reverse('sessions')}?state=dreaming&opened_from=someday").content.decode()
    assert "Select a valid choice" in page
    assert reverse("session", args=[three[0].pk]) not in page


def test_the_page_shows_what_the_file_holds(lab: Lab, client: Client, three: list[Session]) -> None:
    client.force_login(lab.auditor)
    page = client.get(reverse("sessions")).content.decode()
    for session in three:
        assert reverse("session", args=[session.pk]) in page
        assert session.gauge.tag.text in page
