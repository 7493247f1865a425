"""The journal's pages: what the filters find, the file, one entry, walking the chain on the spot, who may read."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import Actor, act, note
from labsys.journal.models import JournalEntry
from tests.labsys.journal.test_door import tamper

pytestmark = pytest.mark.django_db

# 23:30 UTC is the next day in the laboratory.
NOW = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
DAY = timedelta(days=1)
OTHER = Actor("job:sweep", "The sweep", "job")


class Never(LabError):
    code = "never"
    sentence = "Never {what}."


@act("room.set-thing")
def set_thing(
    *, subject: str, reason: str = "", refuse: bool = False, by: Any = OTHER, now: datetime = NOW
) -> None:
    if refuse:
        raise Never(what="this", subject=subject)
    note(
        subject,
        reason=reason,
        before={"size_mm": "1.0", "gone": True},
        after={"size_mm": "2.0", "until": now},
    )


@act("room2.look")
def look(*, by: Any = OTHER, now: datetime = NOW) -> None:
    note("thing:7", after={"seen": ["a", "b"]})


@pytest.fixture
def reader(signed_in: Callable[[str], Client], person: Callable[[str], Person]) -> Client:
    """The auditor, and a journal with something of every kind in it."""
    manager = person("manager")
    set_thing(subject="thing:1", reason="worn", by=manager, now=NOW)
    set_thing(subject="thing:2", by=OTHER, now=NOW + DAY)
    with pytest.raises(Never):
        set_thing(subject="thing:1", refuse=True, by=manager, now=NOW + 2 * DAY)
    look(by=OTHER, now=NOW + 3 * DAY)
    return signed_in("auditor")


def rows(client: Client, query: str = "") -> list[dict[str, Any]]:
    answer = client.get(reverse("journal") + f"?{query}")
    assert answer.status_code == 200
    return [row.cells for row in answer.context["table"].rows]


def whats(client: Client, query: str) -> list[str]:
    return [f"{cells['what']} {cells['about']}" for cells in rows(client, query)]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("act=room.set-thing", ["refused thing:1", "thing:2", "thing:1"]),
        ("act=room.", ["refused thing:1", "thing:2", "thing:1"]),
        ("about=thing:1", ["refused thing:1", "thing:1"]),
        ("about=thing:1&outcome=refused", ["refused thing:1"]),
        ("who=job:sweep", ["thing:7", "thing:2"]),
        ("who=manager", ["refused thing:1", "thing:1"]),
        ("act=room.&since=2026-03-04", ["refused thing:1", "thing:2"]),
        ("act=room.&until=2026-03-03", ["thing:1"]),
        ("since=2026-03-04&until=2026-03-04", ["thing:2"]),
        ("about=nobody+knows", []),
    ],
)
def test_the_address_narrows(query: str, found: list[str], reader: Client) -> None:
    answers = whats(reader, query)
    assert len(answers) == len(found)
    for answer, (flag, _, subject) in zip(answers, (one.rpartition(" ") for one in found), strict=True):
        assert answer.endswith(subject)
        assert ("refused" in answer) == bool(flag)


def test_an_unreadable_filter_finds_nothing_and_says_why(reader: Client) -> None:
    answer = reader.get(reverse("journal") + "?since=yesterday")
    assert answer.context["table"].rows == []
    assert "Enter a valid date" in answer.content.decode()


def test_the_file_is_enough_to_walk_the_chain_without_the_program(reader: Client) -> None:
    answer = reader.get(reverse("journal") + "?as=csv")
    text = b"".join(answer.streaming_content).decode().lstrip("\N{ZERO WIDTH NO-BREAK SPACE}")  # type: ignore[attr-defined]
    lines = list(csv.DictReader(io.StringIO(text)))
    assert len(lines) == JournalEntry.objects.count() >= 5
    previous = "0" * 64
    for number, line in enumerate(lines, start=1):
        assert (line["Entry"], line["Hash before"]) == (str(number), previous)
        assert hashlib.sha256(line["Text that was hashed"].encode()).hexdigest() == line["Hash"]
        previous = line["Hash"]


def test_the_file_holds_what_the_filter_asks_for(reader: Client) -> None:
    answer = reader.get(reverse("journal") + "?about=thing:1&as=csv")
    lines = b"".join(answer.streaming_content).decode().strip().splitlines()  # type: ignore[attr-defined]
    assert len(lines) == 3


def test_another_kind_of_file_is_refused(reader: Client) -> None:
    assert reader.get(reverse("journal") + "?as=xlsx").status_code == 409


def entry_page(client: Client, **which: Any) -> str:
    entry = JournalEntry.objects.get(**which)
    answer = client.get(reverse("journal-entry", args=[entry.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_an_entry_says_each_field_before_and_after(reader: Client) -> None:
    text = entry_page(reader, subject="thing:1", outcome="done")
    for said in ("size mm", "1.0", "2.0", "2026-03-03 00:30", "worn", "The manager", "Its columns, its text"):
        assert said in text
    assert '<td class="said">yes</td><td class="said"></td>' in text


def test_a_refusal_keeps_its_sentence(reader: Client) -> None:
    assert "Never this." in entry_page(reader, outcome="refused")


def test_an_altered_entry_says_so(reader: Client) -> None:
    tamper("UPDATE labsys_journalentry SET reason = 'because' WHERE reason = 'worn'")
    assert "don&#x27;t match its text" in entry_page(reader, reason="because")


def test_walking_on_the_spot_is_recorded_in_the_readers_name(reader: Client) -> None:
    assert "Nobody has walked the chain yet" in reader.get(reverse("journal")).content.decode()
    text = reader.post(reverse("journal-verify"), follow=True).content.decode()
    assert "entries hold together" in text
    assert "when The auditor last walked the chain" in text


def test_a_broken_chain_is_loud_until_it_is_whole_again(reader: Client) -> None:
    tamper("DELETE FROM labsys_journalentry WHERE sequence = 2")
    text = reader.post(reverse("journal-verify"), follow=True).content.decode()
    assert "Entry 2 is missing" in text
    again = reader.get(reverse("journal")).content.decode()
    assert "Broken" in again and 'role="alert"' in again


def test_a_long_journal_is_left_to_the_daily_job(reader: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("labsys.journal.views.MOST_ON_THE_SPOT", 3)
    text = reader.post(reverse("journal-verify"), follow=True).content.decode()
    assert "too long to be walked while you wait" in text
    assert not JournalEntry.objects.filter(act="journal.verify").exists()


def test_pages_neither_jump_nor_repeat(reader: Client) -> None:
    for number in range(120):
        set_thing(subject=f"thing:{number}", by=OTHER, now=NOW)
    seen, query = [], "act=room.set-thing"
    while query:
        answer = reader.get(reverse("journal") + f"?{query}")
        seen += [row.pk for row in answer.context["table"].rows]
        set_thing(subject="thing:1", by=OTHER, now=NOW)  # goes on top, moves nothing below
        after = answer.context["page"].after
        query = f"act=room.set-thing&page={after}" if after else ""
    assert len(seen) == len(set(seen)) == 123


def test_more_entries_ask_no_more_questions(reader: Client) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert len(rows(reader, "act=room.set-thing")) > 0
        return len(counted)

    set_thing(subject="person:1", by=OTHER, now=NOW)
    few = asked()
    for number in range(40):
        set_thing(subject=f"person:{number}", by=OTHER, now=NOW)
    assert asked() == few <= 9


@pytest.mark.parametrize(
    ("role", "status"),
    [
        ("manager", 200),
        ("reviewer", 200),
        ("auditor", 200),
        ("administrator", 200),
        ("technician", 403),
        ("floor", 403),
    ],
)
def test_who_may_read(role: str, status: int, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(role)
    assert client.get(reverse("journal")).status_code == status
    assert client.get(reverse("journal-entry", args=[1])).status_code == status
    assert client.post(reverse("journal-verify")).status_code == (302 if status == 200 else 403)


@pytest.mark.parametrize("address", ["/journal/", "/journal/1/"])
def test_an_expired_sign_in_never_puts_a_page_into_a_page(address: str, db: None) -> None:
    answer = Client().get(
        address, headers={"HX-Request": "true", "HX-Current-URL": "http://testserver/journal/"}
    )
    assert answer.status_code == 401
    assert answer["HX-Redirect"] == f"{reverse('account_login')}?next=%2Fjournal%2F"
    assert Client().get(address).headers["Location"].startswith(reverse("account_login"))
