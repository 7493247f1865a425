"""The act door: one transaction, one chain, a trace of every act and every refusal."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import ClassVar

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from labsys.errors import LabError
from labsys.journal.door import GENESIS, Actor, UnjournalledAct, act, canonical, note
from labsys.journal.models import JournalEntry, JournalHead
from labsys.journal.queries import verify_chain
from labsys.laboratory.models import Department, Place

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
BY = Actor("person:7", "The manager", "manager")


class Refused(LabError):
    """A refusal of the tests."""

    code: ClassVar[str] = "refused-in-test"
    sentence: ClassVar[str] = "No {what} today."


@act("test.inner")
def inner(*, name: str, by: Actor, now: datetime) -> Place:
    place = Place.objects.create(name=name)
    note(f"place:{place.pk}", after={"name": name})
    return place


@act("test.outer")
def outer(*, names: tuple[str, ...], fail: bool = False, by: Actor, now: datetime) -> None:
    for name in names:
        inner(name=name, by=by, now=now)
    note("test", reason="because", before={"n": 0}, after={"n": len(names)})
    if fail:
        raise Refused(what="more places", subject="test")


@act("test.silent")
def silent(*, by: Actor, now: datetime) -> None:
    Department.objects.create(code="X", name="X")


def test_an_act_leaves_who_when_what_and_why() -> None:
    outer(names=("one", "two"), by=BY, now=NOW)
    entries = list(JournalEntry.objects.order_by("sequence"))
    assert [(e.sequence, e.act) for e in entries] == [(1, "test.inner"), (2, "test.inner"), (3, "test.outer")]
    last = entries[-1]
    assert (last.actor_id, last.actor_name, last.actor_role) == ("person:7", "The manager", "manager")
    assert (last.at, last.reason, last.before, last.after) == (NOW, "because", {"n": 0}, {"n": 2})
    assert entries[0].previous_hash == GENESIS
    assert entries[2].previous_hash == entries[1].hash
    assert JournalHead.objects.get().hash == last.hash


def test_a_refusal_undoes_everything_and_leaves_its_own_trace() -> None:
    with pytest.raises(Refused, match="No more places today"):
        outer(names=("one",), fail=True, by=BY, now=NOW)
    assert not Place.objects.exists()
    entry = JournalEntry.objects.get()
    assert (entry.act, entry.outcome, entry.subject) == ("test.outer", "refused", "test")
    assert entry.after == {"code": "refused-in-test", "what": "more places", "subject": "test"}
    assert verify_chain().fault is None


def test_an_act_that_says_nothing_is_a_fault_and_changes_nothing() -> None:
    with pytest.raises(UnjournalledAct):
        silent(by=BY, now=NOW)
    assert not Department.objects.exists()


def test_a_note_outside_an_act_is_a_fault() -> None:
    with pytest.raises(UnjournalledAct):
        note("nobody")


def test_an_outer_act_may_go_on_after_an_inner_refusal_it_handles() -> None:
    @act("test.handles")
    def handles(*, by: Actor, now: datetime) -> None:
        inner(name="kept", by=by, now=now)
        note("test", after={"handled": True})

    handles(by=BY, now=NOW)
    assert JournalEntry.objects.count() == 2


def tamper(sql: str) -> None:
    from tests.flushing import triggers_off

    with triggers_off(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("ALTER TABLE labsys_journalentry DISABLE TRIGGER USER")
        cursor.execute(sql)
        if connection.vendor == "postgresql":
            cursor.execute("ALTER TABLE labsys_journalentry ENABLE TRIGGER USER")


@pytest.mark.parametrize(
    ("sql", "sentence"),
    [
        ("UPDATE labsys_journalentry SET reason = 'other' WHERE sequence = 3", "columns of entry 3"),
        ("UPDATE labsys_journalentry SET canonical = '{}' WHERE sequence = 2", "text of entry 2"),
        ("DELETE FROM labsys_journalentry WHERE sequence = 2", "Entry 2 is missing"),
        ("DELETE FROM labsys_journalentry WHERE sequence = 3", "entries at the end are missing"),
        ("UPDATE labsys_journalentry SET hash = previous_hash WHERE sequence = 1", "text of entry 1"),
        ("DELETE FROM labsys_journalhead", "head of the journal is missing"),
    ],
)
def test_every_kind_of_tampering_is_found(sql: str, sentence: str) -> None:
    outer(names=("one", "two"), by=BY, now=NOW)
    assert verify_chain().fault is None
    tamper(sql)
    fault = verify_chain().fault
    assert fault is not None and sentence in fault


def test_a_rewritten_chain_with_its_own_hashes_is_still_found_by_the_head() -> None:
    outer(names=("one",), by=BY, now=NOW)
    head = JournalHead.objects.get()
    outer(names=("two",), by=BY, now=NOW + timedelta(minutes=1))
    tamper("DELETE FROM labsys_journalentry WHERE sequence > 2")
    JournalHead.objects.update(sequence=head.sequence)
    assert "head" in (verify_chain().fault or "")


def test_canonical_text_is_the_same_for_the_same_facts() -> None:
    from decimal import Decimal

    one = canonical({"b": Decimal("1.10"), "a": NOW, "c": [1, None]})
    assert one == canonical({"c": (1, None), "a": NOW, "b": Decimal("1.10")})
    assert one == '{"a":"2026-03-02T09:30:00.000000+00:00","b":"1.10","c":[1,null]}'


def test_the_head_is_locked_as_the_last_thing_an_act_does() -> None:
    """Business rows first, then the head, then the entries: whoever waits for the head waits shortly."""
    outer(names=("zero",), by=BY, now=NOW)  # makes the head
    with CaptureQueriesContext(connection) as captured:
        outer(names=("one", "two"), by=BY, now=NOW)
    tables = [
        next(
            (name for name in ("journalhead", "journalentry", "place") if f'"labsys_{name}"' in query["sql"]),
            "",
        )
        for query in captured
    ]
    touched = [name for name in tables if name]
    first = touched.index("journalhead")
    assert touched[:first] == ["place", "place"]
    assert set(touched[first:]) == {"journalhead", "journalentry"}
    assert touched[-1] == "journalhead"
