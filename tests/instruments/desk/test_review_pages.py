"""What a reviewer has before them: who waits, whose own work it is, everything to look at, the signature below it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from instruments.certificates.gathering import draft_of
from instruments.certificates.gathering.lines import ResultNotReproduced
from instruments.certificates.models import Certificate
from instruments.certificates.operations import sign_off
from instruments.inventory.models import Gauge
from instruments.measuring.operations import accept_deviation, return_submission
from instruments.measuring.operations.stages import AdjustmentData, begin_as_left
from instruments.recall.operations import release
from labsys.accounts.models import Person
from tests import laboratory
from tests.bench import Player, _zone, bring, content, first_day, gauge, lab, player, sit
from tests.instruments.certificates.traced import trace
from tests.laboratory import Lab, proof

__all__ = ["_zone", "bring", "content", "first_day", "gauge", "lab", "player", "sit"]


def page(client: Client, name: str, *args: int) -> str:
    response = client.get(reverse(name, args=args))
    assert response.status_code == 200, response.status_code
    return response.content.decode()


def as_reviewer_too(person: Person) -> Person:
    person.groups.add(Group.objects.get(name="reviewer"))
    return type(person).objects.get(pk=person.pk)


def test_everything_a_second_person_looks_at_stands_on_one_page(
    lab: Lab, client: Client, player: Player
) -> None:
    player.begin()
    player.read_off(lambda point: 5 if point.function == "outside" else 0)
    player.zero("closing")
    begin_as_left(
        session=player.session, adjustment=AdjustmentData(what="gib tightened"), by=player.by, now=player.now
    )
    player.begin()
    taken = player.read_off()
    player.send("strike", reading=taken[0].pk, reason="seating")
    player.read(taken[0].point, taken[0].raw)
    submission = player.finish()
    client.force_login(lab.reviewer)
    text = page(client, "review-submission", submission.pk)
    for part in (
        "out of tolerance",
        "in tolerance",
        "gib tightened",
        "struck by The technician: not seated or rocking",
        "Calibration uncertainty",
        "Test value uncertainty",
        "named by the rule",
        "GB-01",
        "Chains at their last use",
        "Against the rules of the procedure",
        submission.record_sha256,
        f'action="{reverse("review-submission", args=[submission.pk])}"',
        "What the certificate will say",
    ):
        assert part in text, part


def test_the_signature_below_the_results_issues_the_certificate(
    lab: Lab, client: Client, gauge: Gauge, sit: Callable[..., Player]
) -> None:
    trace(lab)
    player = sit(gauge)
    player.begin()
    player.read_off()
    submission = player.finish()
    lab.reviewer.set_password("the reviewer's own")
    lab.reviewer.save()
    client.force_login(lab.reviewer)
    assert submission.record_sha256 in page(client, "review-submission", submission.pk)
    answer = client.post(
        reverse("review-submission", args=[submission.pk]),
        {"password": "the reviewer's own", "seen_sha256": submission.record_sha256},
    )
    certificate = Certificate.objects.get()
    assert answer.headers["Location"] == reverse("certificate", args=[certificate.pk])
    after = page(client, "review-submission", submission.pk)
    assert "waits for nobody any more" in after
    assert "Sign and issue" not in after
    link = f'href="{reverse("certificate", args=[certificate.pk])}"'
    assert link in after
    assert link in page(client, "session", submission.session_id), "a session leads on to what came of it"


def test_what_can_not_be_drafted_is_still_looked_at_and_given_back(
    lab: Lab, client: Client, player: Player, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_given: Any) -> None:
        raise ResultNotReproduced(
            function="outside", length="25 mm", stored="in_tolerance", found="out_of_tolerance"
        )

    player.begin()
    player.read_off()
    submission = player.finish()
    monkeypatch.setattr("instruments.desk.views.review.draft_of", refused)
    client.force_login(lab.reviewer)
    text = page(client, "review-submission", submission.pk)
    assert "Nothing was signed. Return the session" in text and "What the certificate will say" not in text
    assert re.search(r"<button[^>]*disabled>Sign and issue", text)
    assert reverse("submission-give-back", args=[submission.pk]) in text


def test_own_work_says_so_and_offers_no_signature(
    lab: Lab, client: Client, gauge: Gauge, sit: Callable[..., Player]
) -> None:
    person = as_reviewer_too(lab.technician)
    player = sit(gauge, by=person)
    player.begin()
    player.read_off()
    submission = player.finish()
    client.force_login(person)
    assert "your own work" in page(client, "review")
    text = page(client, "review-submission", submission.pk)
    assert "another authorised person must review it" in text
    assert "Sign and issue" not in text


def test_the_last_calibration_stands_beside_the_new_one(
    lab: Lab, client: Client, gauge: Gauge, sit: Callable[..., Player]
) -> None:
    trace(lab)
    first = sit(gauge)
    first.begin()
    first.read_off(lambda point: 1 if point.function == "outside" else 0)
    done = first.finish()
    sign_off(submission=done, proof=proof(lab.reviewer, first.now), by=lab.reviewer, now=first.now)
    release(gauge=gauge, handed_to_note="line 2", by=lab.technician, now=first.now)
    again = sit(gauge, at=first.now + timedelta(days=300))
    again.begin()
    again.read_off()
    client.force_login(lab.reviewer)
    text = page(client, "review-submission", again.finish().pk).replace("\N{NO-BREAK SPACE}", " ")
    assert "last time +0.010 mm" in text


def test_a_session_that_only_asks_for_a_deviation_is_shown_to_the_reviewer(
    lab: Lab, client: Client, player: Player
) -> None:
    player.look()
    player.room("24.5")
    player.zero("as-found")
    player.zero("set")
    player.read_off()
    client.force_login(lab.reviewer)
    assert "Asking for a deviation" not in page(client, "review"), "the zero is still to be verified"
    player.zero("closing")
    asked = page(client, "review")
    assert "Asking for a deviation" in asked
    assert reverse("session-deviation", args=[player.session.pk]) in asked
    accept_deviation(
        session=player.session, rule="temperature-out", reason="cooling failed", owner_consent="shop lead",
        by=lab.reviewer, now=player.now,
    )  # fmt: skip
    assert "Asking for a deviation" not in page(client, "review")


def test_what_was_given_back_waits_for_nobody(lab: Lab, client: Client, player: Player) -> None:
    player.begin()
    player.read_off()
    submission = player.finish()
    return_submission(submission=submission, reason="repeat the tips", by=lab.reviewer, now=player.now)
    client.force_login(lab.reviewer)
    assert "waits for nobody any more" in page(client, "review-submission", submission.pk)
    assert "Nothing waits for a signature" in page(client, "review")


def test_the_page_costs_the_same_however_much_was_read(
    lab: Lab, client: Client, player: Player, django_assert_max_num_queries: Any
) -> None:
    player.begin()
    player.read_off()
    client.force_login(lab.reviewer)
    first = player.finish()
    with CaptureQueriesContext(connection) as once:
        page(client, "review-submission", first.pk)
    return_submission(submission=first, reason="once more", by=lab.reviewer, now=player.now)
    player.session.refresh_from_db()
    for _ in range(3):
        player.read_off()
    second = player.finish()
    with django_assert_max_num_queries(len(once) + 2):
        page(client, "review-submission", second.pk)


@pytest.mark.parametrize("role", ["manager", "technician", "floor", "auditor"])
def test_nobody_else_reviews(lab: Lab, client: Client, player: Player, role: str) -> None:
    player.begin()
    player.read_off()
    submission = player.finish()
    client.force_login(getattr(lab, role))
    assert client.get(reverse("review-submission", args=[submission.pk])).status_code == 403


def test_every_uncertainty_says_which_one_it_is(lab: Lab, client: Client, player: Player) -> None:
    player.begin()
    player.read_off()
    submission = player.finish()
    client.force_login(lab.reviewer)
    text = page(client, "review-submission", submission.pk)
    printed = draft_of(submission, lab.reviewer, player.now).stages[0].lines[0].printed.U
    assert f"calibration U {printed}\N{NO-BREAK SPACE}mm" in text, "the certificate prints the same digits"
    assert "decided by test value U" in text
    assert "100.0 %" not in text.replace("\N{NO-BREAK SPACE}", " "), "nothing measured is certain"


@pytest.mark.parametrize(
    ("name", "title"), [("review", "Reviews"), ("sessions", "Sessions"), ("search", "Search")]
)
def test_the_place_has_a_page_of_help(lab: Lab, client: Client, name: str, title: str) -> None:
    client.force_login(lab.reviewer)
    assert f"Help: {title}" in page(client, name)
    assert (
        client.get(f"/help/{name.removesuffix('s')}s/" if name != "search" else "/help/search/").status_code
        == 200
    )


def test_a_zero_that_is_exact_by_definition_is_shown(
    lab: Lab, client: Client, sit: Callable[..., Player]
) -> None:
    laboratory.agreed(lab)
    vernier = laboratory.caliper_model(
        lab, designation="V-150", indication="vernier", resolution=Decimal("0.05"), limit_mm="0.05"
    )
    player = sit(laboratory.caliper_gauge(lab, vernier))
    player.look()
    player.room()
    player.zero("as-found")
    player.read_off()
    client.force_login(lab.reviewer)
    text = page(client, "review-submission", player.finish().pk).replace("\N{NO-BREAK SPACE}", " ")
    assert "Zero as found" in text
    assert "Test value uncertainty" in text and "U = 0 mm" in text
