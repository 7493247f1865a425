"""Everybody begins where their moment is answered, and finds anything by what is written on it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from instruments.certificates.operations import sign_off
from instruments.inventory.models import Gauge
from tests.bench import Player
from tests.instruments.certificates.traced import trace
from tests.laboratory import Lab, proof


@pytest.mark.parametrize(
    ("role", "address"),
    [
        ("manager", "/planning/"),
        ("technician", "/bench/"),
        ("reviewer", "/review/"),
        ("auditor", "/search/"),
        ("floor", "/own/"),
        ("administrator", "/lab/"),
    ],
)
def test_everybody_begins_at_their_own_page(lab: Lab, client: Client, role: str, address: str) -> None:
    client.force_login(getattr(lab, role))
    answer = client.get("/", follow=True)
    assert answer.redirect_chain[-1][0] == address
    assert answer.status_code == 200


def test_a_stranger_is_asked_to_sign_in(client: Client, db: None) -> None:
    assert client.get("/").headers["Location"].startswith("/account/login/")


def test_a_custodian_sees_their_own_gauges_with_their_standing(
    lab: Lab, client: Client, player: Player
) -> None:
    client.force_login(lab.floor)
    page = client.get("/own/").content.decode()
    assert "C-0001" in page
    assert "do not use" in page


def test_what_waits_leads_to_its_signature(lab: Lab, client: Client, player: Player) -> None:
    player.begin()
    player.read_off()
    submission = player.finish()
    client.force_login(lab.reviewer)
    waiting = client.get("/review/").content.decode()
    assert "C-0001" in waiting
    assert f"/review/{submission.pk}/" in waiting
    page = client.get(f"/review/{submission.pk}/").content.decode()
    assert f'action="/review/{submission.pk}/"' in page
    client.force_login(lab.technician)
    assert client.get("/review/").status_code == 403


def test_everything_is_found_by_what_is_written_on_it(
    lab: Lab, client: Client, gauge: Gauge, sit: Callable[..., Player]
) -> None:
    trace(lab)
    player = sit(gauge)
    player.begin()
    player.read_off()
    certificate = sign_off(
        submission=player.finish(), proof=proof(lab.reviewer, player.now), by=lab.reviewer, now=player.now
    )
    client.force_login(lab.auditor)

    def found(text: str) -> str:
        return client.get("/search/", {"q": text}).content.decode()

    for text in (gauge.tag.text.lower(), gauge.serial):
        assert f"/gauges/{gauge.pk}/" in found(text), text
    for scan in (gauge.tag.code, f"http://127.0.0.1/f/{gauge.tag.code}/"):
        assert client.get("/search/", {"q": scan}).headers["Location"] == f"/gauges/{gauge.pk}/", scan
    unknown = client.get("/search/", {"q": "0" * 32})
    assert unknown.status_code == 200 and "Nothing carries" in unknown.content.decode()
    assert f"/certificates/{certificate.pk}/" in found(certificate.number)
    assert f"/standards/{lab.blocks.pk}/" in found("GB-01")
    assert "Nothing carries" in found("no such thing")


def test_the_floor_searches_nothing(lab: Lab, client: Client) -> None:
    client.force_login(lab.floor)
    assert client.get("/search/", {"q": "C"}).status_code == 403
