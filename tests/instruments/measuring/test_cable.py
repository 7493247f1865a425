"""The trial of a cable: foreign layouts, commas, units and a missing Enter are told apart and said in words."""

from __future__ import annotations

import pytest
from django.test import Client

from instruments.measuring.cable import Sent, findings, works
from instruments.measuring.models.cables import CableCheck
from labsys.journal.models import JournalEntry
from tests.bench import Player
from tests.laboratory import Lab


def said(text: str, ended: str = "enter", stroke_ms: float | None = 5) -> list[tuple[str, str]]:
    return [(one.level, one.word) for one in findings(Sent(text, ended, stroke_ms))]


@pytest.mark.parametrize("text", ["0.00", " 0.00 ", "-0.01", "12.34", "0"])
def test_a_plain_number_with_enter_works(text: str) -> None:
    assert said(text) == [("good", "It works.")]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("0,00", "A comma."),
        ("\u22120.01", "Another minus."),
        ("\u20130.01", "Another minus."),
        ("0.00 mm", "The unit."),
        ('0.0000"', "The unit."),
        ("+0.00", "A plus."),
    ],
)
def test_what_is_read_anyway_is_said_and_nothing_is_to_be_set(text: str, word: str) -> None:
    assert said(text) == [("good", "It works."), ("note", word)]
    assert works(Sent(text, "enter"))


@pytest.mark.parametrize(
    ("text", "layout"),
    [
        ("ß0.01", "German"),
        (")0.01", "French"),
        ("'0.01", "Spanish, Italian or Swiss"),
        ("=0.01", "Czech"),
        ("ü0.01", "Hungarian"),
        ("à:àà", "French"),
        ("&é:(", "French"),
    ],
)
def test_a_foreign_layout_is_named_with_what_to_set(text: str, layout: str) -> None:
    (found,) = findings(Sent(text, "enter", 5))
    assert (found.level, found.word) == ("set", "Another keyboard layout.")
    assert f"takes the cable for a {layout} keyboard" in found.sentence
    assert "Set the layout for outside keyboards on this device to English (US)" in found.sentence
    assert not works(Sent(text, "enter"))


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "Nothing came."),
        ("H", "No number."),
        ("N0.00", "Something before the number."),
        ("0.00 mm OK", "Something behind the number."),
    ],
)
def test_what_would_not_be_read_is_to_be_set(text: str, word: str) -> None:
    assert said(text)[0] == ("set", word)


def test_how_it_ends_and_how_fast_it_comes() -> None:
    assert said("0.00", "nothing") == [("set", "No Enter.")]
    assert said("0.00", "tab") == [("good", "It works."), ("note", "Tab.")]
    assert said("0.00", "enter", 41) == [("good", "It works."), ("note", "By hand?")]
    assert said("0.00", "unseen", None) == [("good", "It works.")]


@pytest.fixture
def technician(lab: Lab, client: Client) -> Client:
    client.force_login(lab.technician)
    return client


def test_a_trial_is_kept_and_journalled_and_said_on_the_page(technician: Client, lab: Lab) -> None:
    form = {"sent": "ß0.01", "ended": "nothing", "stroke_ms": "4.2", "device": "tablet-7"}
    page = technician.post("/bench/cable/", form).content.decode()
    assert "ß0.01" in page
    assert "and then nothing" in page
    assert "German keyboard" in page
    assert "No Enter came" in page
    row = CableCheck.objects.get()
    assert (row.sent, row.ended, row.device, row.is_good) == ("ß0.01", "nothing", "tablet-7", False)
    assert (
        JournalEntry.objects.filter(act="measuring.check-cable").get().subject
        == f"person:{lab.technician.pk}"
    )


def test_without_script_the_form_says_what_came(technician: Client) -> None:
    page = technician.post("/bench/cable/", {"sent": "0.00"}).content.decode()
    assert "It works." in page
    assert CableCheck.objects.get().ended == "unseen"
    page = technician.post(
        "/bench/cable/", {"sent": "0.00", "ended": "<b>", "stroke_ms": "x"}
    ).content.decode()
    assert CableCheck.objects.count() == 1, "a time that is no number is refused"


def test_the_scan_of_a_label_is_recognised_here_too(technician: Client, player: Player) -> None:
    code = player.session.gauge.tag.code
    page = technician.post("/bench/cable/", {"sent": f"http://127.0.0.1:8000/f/{code}/"}).content.decode()
    assert "That is the label of the gauge C-0001." in page
    assert not CableCheck.objects.exists()


def test_the_bench_leads_to_it(technician: Client, player: Player) -> None:
    assert 'href="/bench/cable/"' in technician.get("/bench/").content.decode()
    assert 'href="/bench/cable/"' in technician.get(f"/bench/session/{player.session.pk}/").content.decode()
