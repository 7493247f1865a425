"""The bench's pages without script: a whole session by plain forms, and what bad input gets."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from instruments.measuring.models import Arrival, Reading, Session, SetAside
from labsys.metrology.exact import plain
from tests.bench import MORNING, Player
from tests.laboratory import Lab

NOON = MORNING + timedelta(hours=3)


@pytest.fixture
def now() -> Any:
    """Stand at noon of the day on which the caliper was received."""
    with time_machine.travel(NOON, tick=True) as traveller:
        yield traveller


@pytest.fixture
def technician(lab: Lab, client: Client) -> Client:
    client.force_login(lab.technician)
    return client


def hidden(page: str, name: str) -> str:
    """Read a hidden field of the reading form."""
    found = re.search(rf'id="reading-for".*?name="{name}" value="([^"]*)"', page, flags=re.DOTALL)
    assert found, f"the page carries no {name}"
    return found[1]


def send(client: Client, player: Player, **fields: Any) -> str:
    """Post one thing and give the page that follows."""
    answer = client.post(f"/bench/session/{player.session.pk}/send/", fields, follow=True)
    assert answer.status_code == 200
    return answer.content.decode()


def page_of(client: Client, player: Player, query: str = "") -> str:
    return client.get(f"/bench/session/{player.session.pk}/{query}").content.decode()


def read(client: Client, player: Player, page: str, raw: str, **more: str) -> str:
    """Send a reading the way the form does."""
    fields = {"kind": "reading", "point": hidden(page, "point"), "client_id": hidden(page, "client_id")}
    return send(client, player, **fields, raw=raw, **more)


def confirming(page: str) -> dict[str, str]:
    """Read the form that says that the gauge does show it."""
    forms = re.findall(r"<form.*?</form>", page, flags=re.DOTALL)
    form = next(found for found in forms if 'name="confirmed"' in found)
    return dict(re.findall(r'name="([a-z_]+)" value="([^"]*)"', form))


def test_a_session_is_done_by_plain_forms_from_looks_to_handing_in(
    technician: Client, player: Player, now: Any
) -> None:
    run = player.run.pk
    page = page_of(technician, player)
    for code in re.findall(r'name="code" value="([^"]+)"', page):
        page = send(
            technician, player, kind="answer", run=run, code=code, answer="good", client_id=f"look-{code}"
        )
    page = send(
        technician,
        player,
        kind="condition",
        run=run,
        temperature_c="20,1",
        humidity_percent="45",
        client_id="room-0001",
    )
    assert "Zero as found" in page
    for zero in ("as-found", "set"):
        page = send(
            technician, player, kind="zero", run=run, zero=zero, raw="0.00", client_id=f"zero-{zero}-1"
        )
    for point in player.points():
        page = page_of(technician, player, f"?point={point.pk}")
        page = read(technician, player, page, f"{plain(point.nominal_mm):f}")
    assert Reading.objects.count() == len(player.points())
    send(technician, player, kind="zero", run=run, zero="closing", raw="0.00", client_id="zero-closing-1")
    summary = technician.get(f"/bench/session/{player.session.pk}/hand-in/").content.decode()
    assert "Nothing is open" in summary
    answer = technician.post(f"/bench/session/{player.session.pk}/hand-in/", follow=True)
    assert "handed in" in answer.content.decode()
    assert Session.objects.get().state == "submitted"


@pytest.fixture
def at_points(technician: Client, player: Player, now: Any) -> Player:
    """Be at the first point."""
    player.begin()
    return player


@pytest.mark.parametrize(
    ("raw", "sentence"),
    [
        ("abc", "Expected a number"),
        ("41.305", "at most 2 decimals"),
        ("1.6260 in", "Expected a reading in mm"),
    ],
)
def test_what_is_no_reading_gets_a_sentence_beside_the_field_and_stays_in_it(
    technician: Client, at_points: Player, raw: str, sentence: str
) -> None:
    page = read(technician, at_points, page_of(technician, at_points), raw)
    assert sentence in page
    assert f'name="raw" value="{raw}"' in page
    assert SetAside.objects.get().arrival.text.count(raw) == 1


def test_an_odd_value_is_asked_about_and_counts_by_one_tap(technician: Client, at_points: Player) -> None:
    page = read(technician, at_points, page_of(technician, at_points), "90.00")
    assert "It shows exactly 90.00" in page
    assert not Reading.objects.exists()
    assert 'form="reading-form"' not in page, (
        "Enter in the field takes the form's first button, and that must be Store"
    )
    sent = confirming(page)
    assert sent["raw"] == sent["confirmed"] == "90.00"
    send(technician, at_points, **sent)
    send(technician, at_points, **sent)
    assert Reading.objects.get().raw == "90.00"


def test_the_same_form_sent_twice_is_one_reading(technician: Client, at_points: Player) -> None:
    page = page_of(technician, at_points)
    read(technician, at_points, page, "41.30")
    read(technician, at_points, page, "41.30")
    assert Reading.objects.count() == 1
    assert Arrival.objects.filter(kind="reading").count() == 1


def test_a_stray_scan_is_no_reading(technician: Client, at_points: Player) -> None:
    tag = at_points.session.gauge.tag
    page = read(technician, at_points, page_of(technician, at_points), f"http://127.0.0.1:8000/f/{tag.code}/")
    assert "was not taken for a reading" in page
    assert not Arrival.objects.filter(kind="reading").exists()


def test_out_of_tolerance_says_so_and_asks_for_the_repeat(technician: Client, at_points: Player) -> None:
    page = read(technician, at_points, page_of(technician, at_points), "41.40")
    assert "Out of tolerance" in page
    assert "read once more" in page


def test_with_htmx_only_parts_are_answered_and_the_field_is_not_among_them(
    technician: Client, at_points: Player
) -> None:
    page = page_of(technician, at_points)
    fields = {
        "kind": "reading",
        "point": hidden(page, "point"),
        "client_id": hidden(page, "client_id"),
        "raw": "41.30",
    }
    answer = technician.post(
        f"/bench/session/{at_points.session.pk}/send/", fields, headers={"HX-Request": "true"}
    )
    text = answer.content.decode()
    assert 'id="bench-corridor"' in text
    assert 'id="raw"' not in text
    assert "reading-stored" in answer.headers["HX-Trigger"]


def test_the_first_page_shows_what_is_on_the_bench(technician: Client, player: Player, now: Any) -> None:
    page = technician.get("/bench/").content.decode()
    assert "C-0001" in page
    assert f"/bench/session/{player.session.pk}/" in page


def test_a_gauge_is_found_by_its_label(technician: Client, player: Player, now: Any) -> None:
    tag = player.session.gauge.tag
    for text in (tag.text, tag.code, f"http://127.0.0.1:8000/f/{tag.code}/"):
        answer = technician.get("/bench/find/", {"label": text})
        assert answer.headers["Location"] == f"/bench/session/{player.session.pk}/"
    assert "No gauge carries" in technician.get("/bench/find/", {"label": "X"}, follow=True).content.decode()


def test_the_record_is_read_by_the_auditor_and_decided_about_by_the_reviewer(
    lab: Lab, client: Client, player: Player, now: Any
) -> None:
    player.begin()
    player.read_off()
    submission = player.finish()
    client.force_login(lab.auditor)
    page = client.get(f"/sessions/{player.session.pk}/").content.decode()
    assert submission.record_sha256 in page
    assert (
        client.post(f"/sessions/submissions/{submission.pk}/give-back/", {"reason": "x"}).status_code == 403
    )
    client.force_login(lab.reviewer)
    address = f"/sessions/submissions/{submission.pk}/give-back/"
    assert client.post(address, {"reason": ""}).status_code == 422
    client.post(address, {"reason": "repeat the tips"})
    assert Session.objects.get().state == "returned"


@pytest.mark.parametrize("path", ["/bench/", "/bench/session/{}/", "/bench/session/{}/hand-in/"])
def test_the_bench_is_the_technicians(lab: Lab, client: Client, player: Player, path: str) -> None:
    address = path.format(player.session.pk)
    assert client.get(address).status_code == 302
    for other in (lab.floor, lab.auditor, lab.manager):
        client.force_login(other)
        assert client.get(address).status_code == 403


def test_a_room_that_is_out_is_said_before_anything_is_read_in_it_and_noted_again(
    technician: Client, player: Player, now: Any
) -> None:
    player.look()
    room = {"kind": "condition", "run": player.run.pk, "humidity_percent": "45"}
    page = send(technician, player, **room, temperature_c="25.9", client_id="room-0001")
    assert "The room" in page
    assert "25.9 °C lies outside" in page
    page = send(technician, player, **room, temperature_c="20.4", client_id="room-0002")
    assert "Zero as found" in page
    assert "25.9 °C lies outside" not in page
