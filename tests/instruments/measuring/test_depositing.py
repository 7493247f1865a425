"""Nothing lost, the laboratory's side: what a tablet deposits is kept whoever is signed in, once, and in its order."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from zeal import zeal_ignore

from instruments.measuring.arriving import HOLE_PATIENCE, missing
from instruments.measuring.models import Arrival, BenchGrant, Reading, SetAside
from instruments.measuring.operations import grant_bench, settle_leftovers, submit
from instruments.measuring.operations.granting import GOOD_FOR
from instruments.measuring.operations.submitting import NotAllArrived, StillOpen
from labsys.accounts.models import Activity
from labsys.accounts.operations import withdraw_authorisation
from tests import laboratory
from tests.bench import Player
from tests.laboratory import Lab

Post = Callable[..., Any]
TABLET = "tablet-0001"


@pytest.fixture
def key(player: Player) -> str:
    return grant_bench(device=TABLET, by=player.by, now=player.now)[1]


@pytest.fixture
def post(player: Player, key: str) -> Post:
    """Deposit as the tablet does, with no cookie at all, at the player's time."""

    def do(*envelopes: dict[str, Any], **changes: Any) -> Any:
        body = {"grant": key, "device": TABLET, "sent_at": player.now.isoformat(), "envelopes": envelopes}
        # Each envelope is judged in a transaction of its own, so that one stands in no other's way.
        with time_machine.travel(player.now, tick=False), zeal_ignore():
            return Client(enforce_csrf_checks=True).post(
                reverse("bench-deposit"), json.dumps({**body, **changes}), content_type="application/json"
            )

    return do


def reading(player: Player, n: int, raw: str | None = None, place: int = 0, **changes: Any) -> dict[str, Any]:
    """Make the envelope of a reading at one of the points."""
    point = player.points()[place]
    text = json.dumps({"point": point.pk, "raw": raw or f"{point.nominal_mm:.2f}"})
    envelope = {
        "id": f"entry-{n:04}", "format": 1, "session": player.session.pk, "n": n, "kind": "reading", "text": text,
        "entered_at": player.now.isoformat(),
    }  # fmt: skip
    return {**envelope, **changes}


def test_a_deposit_is_kept_and_judged_without_any_cookie(player: Player, post: Post) -> None:
    player.begin()
    answer = post(reading(player, 1), reading(player, 2, place=1), reading(player, 3, "no number"))
    assert answer.status_code == 200
    told = answer.json()
    assert [(one["id"], one["became"]) for one in told["kept"]] == [
        ("entry-0001", "taken"), ("entry-0002", "taken"), ("entry-0003", "set aside"),
    ]  # fmt: skip
    assert "Expected a number" in told["kept"][2]["sentence"]
    assert {one["sha256"] for one in told["kept"]} == set(
        Arrival.objects.filter(device=TABLET).values_list("sha256", flat=True)
    )
    taken = Reading.objects.order_by("pk").first()
    assert taken is not None
    assert (taken.read_by, taken.device) == (player.by, TABLET)
    assert "Set-Cookie" not in answer.headers


def test_the_same_deposit_again_is_the_same_arrival(player: Player, post: Post) -> None:
    player.begin()
    first, again = post(reading(player, 1)).json(), post(reading(player, 1)).json()
    assert first["kept"] == again["kept"]
    assert Reading.objects.count() == 1


def test_the_form_and_the_deposit_of_one_entry_are_one_reading(
    lab: Lab, client: Client, player: Player, post: Post
) -> None:
    player.begin()
    envelope = reading(player, 1)
    client.force_login(player.by)
    text = json.loads(envelope["text"])
    with time_machine.travel(player.now, tick=False):
        client.post(
            reverse("bench-send", args=[player.session.pk]),
            {"kind": "reading", **text, "envelope": json.dumps({**envelope, "device": TABLET})},
        )
    assert post(envelope).json()["kept"][0]["became"] == "taken"
    assert (Reading.objects.count(), Arrival.objects.filter(kind="reading").count()) == (1, 1)
    assert Arrival.objects.get(kind="reading").n == 1


def test_other_content_under_one_id_is_kept_too(player: Player, post: Post) -> None:
    player.begin()
    post(reading(player, 1))
    post(reading(player, 1, "41.31"))
    assert Reading.objects.count() == 2


def test_a_hole_delays_judging_and_never_storing(player: Player, post: Post) -> None:
    player.begin()
    late = post(reading(player, 3, place=2), reading(player, 2, place=1)).json()
    assert [one["became"] for one in late["kept"]] == ["waiting", "waiting"]
    assert Arrival.objects.filter(device=TABLET).count() == 2
    assert not Reading.objects.exists()
    assert missing(player.session) == {TABLET: 1}
    filled = post(reading(player, 1)).json()
    assert filled["kept"][0]["became"] == "taken"
    assert [row.arrival.n for row in Reading.objects.order_by("pk")] == [1, 2, 3]
    assert missing(player.session) == {}


def test_a_hole_that_stays_is_judged_past_and_blocks_handing_in(lab: Lab, player: Player, post: Post) -> None:
    player.begin()
    player.read_off()
    post(reading(player, 2))
    assert settle_leftovers(now=player.now + timedelta(minutes=2)) == 0
    assert settle_leftovers(now=player.now + HOLE_PATIENCE + timedelta(minutes=1)) == 1
    with pytest.raises(StillOpen, match="1 entry typed on a tablet has not arrived"):
        player.finish()


def test_handing_in_waits_for_what_the_tablet_says_it_typed(player: Player, post: Post) -> None:
    player.begin()
    player.read_off()
    post(reading(player, 1))
    player.zero("closing")
    with pytest.raises(NotAllArrived, match="2 of what was typed"):
        submit(session=player.session, by=player.by, now=player.now, last_n={TABLET: 3})
    post(reading(player, 2), reading(player, 3))
    player.now += timedelta(minutes=1)
    player.zero("closing")
    assert submit(session=player.session, by=player.by, now=player.now, last_n={TABLET: 3})


def test_only_after_handing_in_the_tablet_may_delete(player: Player, post: Post) -> None:
    player.begin()
    player.read_off()
    session = player.session.pk
    assert post(reading(player, 1), receipts_for=[session]).json()["receipts"] == {}
    player.finish()
    assert post(receipts_for=[session, 999999]).json()["receipts"] == {str(session): ["entry-0001"]}


def test_a_clock_that_is_wrong_is_corrected_by_the_difference_seen(player: Player, post: Post) -> None:
    player.begin()
    ahead = player.now + timedelta(hours=3)
    post(reading(player, 1, entered_at=(ahead - timedelta(minutes=5)).isoformat()), sent_at=ahead.isoformat())
    arrival = Arrival.objects.get(device=TABLET)
    assert arrival.clock_off_s == 3 * 3600
    assert arrival.entered_at == player.now - timedelta(minutes=5)
    taken = Reading.objects.get()
    assert (taken.measured_at, taken.offline) == (arrival.entered_at, True)


@pytest.mark.parametrize("off_s", [-2, 0, 2])
def test_the_way_of_the_message_is_no_wrong_clock(player: Player, post: Post, off_s: int) -> None:
    player.begin()
    post(reading(player, 1), sent_at=(player.now + timedelta(seconds=off_s)).isoformat())
    assert Arrival.objects.get(device=TABLET).clock_off_s == 0


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"id": "x"}, "an id of 8 to 64"),
        ({"format": 2}, "format 1"),
        ({"session": "812"}, "the number of a session"),
        ({"session": 999999}, "no such session"),
        ({"n": 0}, "a count from 1"),
        ({"kind": ""}, "a kind"),
        ({"text": {}}, "a text"),
        ({"entered_at": "yesterday"}, "the time it was typed"),
    ],
)
def test_what_cannot_be_kept_is_named_and_keeps_no_other_from_being_kept(
    player: Player, post: Post, change: dict[str, Any], said: str
) -> None:
    player.begin()
    told = post(reading(player, 1), {**reading(player, 2, place=1), **change}).json()
    assert [one["id"] for one in told["kept"]] == ["entry-0001"]
    (refused,) = told["refused"]
    assert said in refused["sentence"]
    assert refused["id"] == change.get("id", "entry-0002")


@pytest.mark.parametrize(
    "body", ["", "[]", "{}", '{"grant": 1}', '{"grant": "x", "device": "y", "envelopes": {}}', "\x00"]
)
def test_a_deposit_that_is_none_is_told_so(db: None, body: str) -> None:
    answer = Client().post(reverse("bench-deposit"), body, content_type="application/json")
    assert answer.status_code == 400
    assert "stays there" in answer.json()["sentence"]


def test_an_unknown_or_ended_key_keeps_everything_on_the_tablet(player: Player, post: Post, key: str) -> None:
    assert post(reading(player, 1), grant="bench_guessed").status_code == 403
    grant_bench(device=TABLET, by=player.by, now=player.now)
    ended = post(reading(player, 1))
    assert (ended.status_code, ended.json()["code"]) == (403, "grant-unknown")
    assert not Arrival.objects.filter(device=TABLET).exists()


def test_a_key_is_over_after_its_days(player: Player, post: Post) -> None:
    player.now += GOOD_FOR - timedelta(minutes=1)
    assert post().status_code == 200
    player.now += timedelta(minutes=2)
    assert post().status_code == 403


def test_a_lapsed_authority_is_kept_and_set_aside(lab: Lab, player: Player, post: Post) -> None:
    player.begin()
    withdraw_authorisation(
        person=lab.technician, activity=Activity.MEASURE, family=lab.family, reason="expired",
        by=laboratory.SETUP, now=player.now,
    )  # fmt: skip
    assert post(reading(player, 1)).json()["kept"][0]["became"] == "set aside"
    assert SetAside.objects.get().code == "not-authorised"


def test_the_key_is_given_to_who_measures_and_only_its_hash_is_kept(lab: Lab, client: Client) -> None:
    address = reverse("bench-grant")
    client.force_login(lab.technician)
    now = datetime.now(UTC)
    given = client.post(address, json.dumps({"device": TABLET}), content_type="application/json").json()
    row = BenchGrant.objects.get()
    assert given["grant"].startswith("bench_") and given["grant"] not in str(vars(row))
    assert (row.person, row.device) == (lab.technician, TABLET)
    assert timedelta(days=13) < row.until - now <= GOOD_FOR + timedelta(minutes=1)
    assert client.post(address, "{}", content_type="application/json").status_code == 400
    client.force_login(lab.auditor)
    assert (
        client.post(address, json.dumps({"device": TABLET}), content_type="application/json").status_code
        == 403
    )
