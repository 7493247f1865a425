"""The floor page: right, small, the same for every wrong code, without login, and without leaving a trace."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from instruments.inventory.models import Gauge
from instruments.recall import operations as recall
from instruments.recall.models import Hold, UseCheck
from labsys.accounts.models import Person
from labsys.laboratory.models import Place, Tag
from labsys.laboratory.operations import issue_tag
from standards.register.models import Standard
from tests.instruments.recall.conftest import NOW, MakeGauge

STYLE = Path(__file__).parents[3] / "instruments/static/instruments/floor.css"
WRONG = ["0" * 32, "f" * 32, "nonsense", "0" * 31, "0" * 60, "%00", "’", "a b"]


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def scan(code: str, client: Client | None = None) -> Any:
    return (client or Client()).get(f"/f/{code}/")


def text(gauge: Gauge) -> str:
    response = scan(gauge.tag.code)
    assert response.status_code == 200
    return str(response.content.decode())


def test_it_says_the_word_until_when_and_what_it_is(gauge: Gauge) -> None:
    page = text(gauge)
    assert "<h1>use</h1>" in page
    assert "until 2027-03-10, through the end of that day" in page
    assert gauge.tag.text in page
    assert "Caliper, 0 to 150 mm" in page
    assert "Lathe 4" in page
    assert "shift lead, turning" in page
    assert "Shown 2026-11-23 09:00. An old page or a photo is no proof." in page


def test_a_restriction_stands_in_its_box(gauge: Gauge, people: dict[str, Person]) -> None:
    data = recall.RestrictionData(text="Outside only, to 100 mm.", functions=("outside",))
    recall.restrict(gauge=gauge, data=data, reason="Worn.", by=people["reviewer"], now=NOW)
    page = text(gauge)
    assert "<h1>use with restriction</h1>" in page
    assert '<p class="only">Outside only, to 100 mm.</p>' in page


def test_what_may_not_be_used_says_why_and_no_date(gauge: Gauge, people: dict[str, Person]) -> None:
    recall.set_hold(
        gauge=gauge, kind=Hold.Kind.OTHER, reason="Secret of a customer.", by=people["manager"], now=NOW
    )
    page = text(gauge)
    assert "<h1>do not use</h1>" in page
    assert "On hold." in page
    assert "2027" not in page
    assert "Secret" not in page


def test_it_gives_nothing_else_away(gauge: Gauge, people: dict[str, Person]) -> None:
    page = text(gauge).replace("instruments/floor.css", "")
    for secret in (
        gauge.serial,
        people["floor"].name,
        people["floor"].username,
        "Plant stores",
        "<script",
        "<header",
    ):
        assert secret not in page
    assert page.count("<a ") == 1
    assert page.count('rel="stylesheet"') == 1


def test_it_is_small(gauge: Gauge, people: dict[str, Person]) -> None:
    """Interface: style sheet under 6 kB, page under 30 kB, one picture of 112 px inside, system fonts."""
    style = STYLE.read_text(encoding="utf-8")
    assert len(style.encode()) < 6_000
    assert "font-face" not in style and "url(" not in style
    page = text(gauge)
    assert len(page.encode()) < 30_000
    assert '<svg viewBox="0 0 24 24" width="112" height="112"' in page


def test_every_wrong_code_gets_the_same_answer(gauge: Gauge) -> None:
    pages = []
    for code in WRONG:
        response = scan(code)
        assert response.status_code == 404
        # The link is the only thing that could differ, and there is none.
        pages.append(response.content)
    assert len(set(pages)) == 1
    assert b"unknown code" in pages[0]


@pytest.mark.parametrize("signed_in", [False, True])
def test_right_and_wrong_take_one_read_and_write_nothing(
    gauge: Gauge, people: dict[str, Person], signed_in: bool
) -> None:
    client = Client()
    if signed_in:
        client.force_login(people["floor"])
    for code in (gauge.tag.code, *WRONG):
        with CaptureQueriesContext(connection) as asked:
            response = scan(code, client)
        assert [query["sql"].split()[0] for query in asked] == ["SELECT"], code
        assert not response.cookies
    assert response["Cache-Control"].startswith("max-age=0")
    assert response["Referrer-Policy"] == "no-referrer"


def test_a_laboratory_standard_is_not_for_the_floor(people: dict[str, Person], bench: Place) -> None:
    tag = issue_tag(text="GB-01", by=people["manager"], now=NOW)
    Standard.objects.create(
        tag=tag,
        kind="block-set",
        name="Blocks",
        serial="1",
        place=bench,
        interval_months=12,
        registered_at=NOW,
    )
    page = scan(tag.code).content.decode()
    assert "<h1>do not use</h1>" in page
    assert "A laboratory standard, not for use on the floor." in page
    assert "<a " not in page


def test_a_tag_of_nothing_is_a_wrong_code(people: dict[str, Person]) -> None:
    tag = issue_tag(text="X-1", by=people["manager"], now=NOW)
    assert scan(tag.code).content == scan("0" * 32).content


def test_no_code_can_be_guessed_from_another() -> None:
    codes = {Tag(text=str(number)).code for number in range(500)}
    assert len(codes) == 500
    assert all(len(code) == 32 and set(code) <= set("0123456789abcdef") for code in codes)


# What somebody signed in can record


def acts(gauge: Gauge, person: Person, **sent: str) -> Any:
    client = Client()
    client.force_login(person)
    address = f"/f/{gauge.tag.code}/record/"
    return client.post(address, sent) if sent else client.get(address)


def test_who_is_not_signed_in_is_asked_to(gauge: Gauge) -> None:
    response = Client().get(f"/f/{gauge.tag.code}/record/")
    assert response.status_code == 302
    assert response["Location"].startswith("/account/login/?next=/f/")


def test_the_custodian_records_todays_check(make_gauge: MakeGauge, people: dict[str, Person]) -> None:
    gauge = make_gauge(check_before_use=True)
    assert "To be checked before use; no check is recorded today." in text(gauge)
    sent = {"act": "check", "check-good": "yes", "check-note": "Zero held."}
    assert acts(gauge, people["floor"], **sent).status_code == 302
    assert UseCheck.objects.get().note == "Zero held."
    assert "<h1>use</h1>" in text(gauge)


def test_the_custodian_reports_damage_and_hands_over(
    gauge: Gauge, people: dict[str, Person], lathe: Place
) -> None:
    sent = {"act": "hand-over", "hand-over-to": "night shift", "hand-over-place": "Lathe 4"}
    assert acts(gauge, people["floor"], **sent).status_code == 302
    assert gauge.custody.get().kind == "handed-over"
    assert acts(gauge, people["floor"], **{"act": "damage", "damage-what": "Dropped."}).status_code == 302
    assert "<h1>do not use</h1>" in text(gauge)


def test_a_mistake_is_said_beside_the_field_and_nothing_is_lost(
    gauge: Gauge, people: dict[str, Person]
) -> None:
    response = acts(
        gauge, people["floor"], **{"act": "check", "check-good": "", "check-note": "Jumped once."}
    )
    assert response.status_code == 422
    assert "Jumped once." in response.content.decode()


def test_a_stranger_may_report_damage_and_nothing_else(
    make_gauge: MakeGauge, people: dict[str, Person]
) -> None:
    gauge = make_gauge(custodian=None)
    people["reviewer"].department = None
    page = acts(gauge, people["reviewer"]).content.decode()
    assert 'name="damage-what"' in page
    assert 'name="check-good"' not in page and 'name="hand-over-to"' not in page
    assert acts(gauge, people["reviewer"], **{"act": "check", "check-good": "yes"}).status_code == 200
    assert not UseCheck.objects.exists()
    assert acts(gauge, people["auditor"]).status_code == 403


def test_the_due_day_ends_at_the_laboratorys_midnight(gauge: Gauge, monkeypatch: pytest.MonkeyPatch) -> None:
    """Vienna is an hour ahead of UTC in winter: 22:59 UTC is still the due day, 23:00 UTC is not."""
    last = datetime(2027, 3, 10, 22, 59, 59, tzinfo=UTC)
    monkeypatch.setattr("django.utils.timezone.now", lambda: last)
    assert "<h1>use</h1>" in text(gauge)
    monkeypatch.setattr("django.utils.timezone.now", lambda: last + timedelta(seconds=1))
    assert "Was due on 2027-03-10." in text(gauge)
