"""Walking the chain: while people go on acting, against a note kept elsewhere, by command and by the daily job."""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from labsys.jobs import verifying
from labsys.jobs.models import JobRun
from labsys.jobs.tasks import verify_journal
from labsys.journal import queries
from labsys.journal.door import GENESIS, Actor, act, canonical, hash_of, note
from labsys.journal.models import JournalEntry, JournalHead
from labsys.journal.operations import ChainBroken
from labsys.journal.queries import columns, fault_of, last_verification, verify_chain
from tests.labsys.journal.test_door import tamper

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
BY = Actor("person:7", "The manager", "manager")


@act("test.say")
def say(*, what: str, by: Actor = BY, now: datetime = NOW) -> None:
    note("test", after={"what": what})


def entries(count: int) -> list[JournalEntry]:
    for number in range(count):
        say(what=f"number {number}", by=BY, now=NOW)
    return list(JournalEntry.objects.order_by("sequence"))


def note_of(entry: JournalEntry) -> str:
    return f"{entry.sequence}:{entry.hash}"


def test_an_empty_journal_holds() -> None:
    assert (verify_chain().entries, verify_chain().head_hash, verify_chain().fault) == (0, GENESIS, None)


def test_portions_meet_without_gap_or_overlap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(queries, "_PORTION", 3)
    entries(10)
    report = verify_chain()
    assert (report.entries, report.fault) == (10, None)
    tamper("DELETE FROM labsys_journalentry WHERE sequence = 6")
    assert "Entry 6 is missing" in (verify_chain().fault or "")


def test_people_may_act_while_the_chain_is_walked(monkeypatch: pytest.MonkeyPatch) -> None:
    """The head moves on between its reading and the end of the walk, before and after the last portion was read."""
    entries(4)
    plain = queries._in_order

    def walked() -> Iterator[JournalEntry]:
        say(what="before the first portion", by=BY, now=NOW)
        yield from list(plain())
        say(what="after the last portion", by=BY, now=NOW)

    monkeypatch.setattr(queries, "_in_order", walked)
    report = verify_chain()
    assert (report.entries, report.fault) == (5, None)
    assert JournalHead.objects.get().sequence == 6


def _append_past_the_door() -> None:
    last = JournalEntry.objects.order_by("-sequence").first()
    assert last is not None
    fields = {
        **columns(last),
        "sequence": last.sequence + 1,
        "previous_hash": last.hash,
        "reason": "slipped in",
    }
    text = canonical(fields)
    JournalEntry.objects.create(**fields, canonical=text, hash=hash_of(text))


def test_an_entry_that_came_past_the_door_is_found() -> None:
    entries(2)
    _append_past_the_door()
    assert "past the door" in (verify_chain().fault or "")


def _rewrite(reason: str) -> None:
    """Compute the whole chain anew with another word in its first entry, head and all."""
    rows, previous = list(JournalEntry.objects.order_by("sequence")), GENESIS
    tamper("DELETE FROM labsys_journalentry")
    for row in rows:
        if row.sequence == 1:
            row.reason = reason
        row.previous_hash = previous
        row.canonical = canonical(columns(row))
        row.hash = previous = hash_of(row.canonical)
    JournalEntry.objects.bulk_create(rows)
    JournalHead.objects.update(hash=previous)


def test_a_chain_written_anew_is_told_by_a_note_kept_elsewhere() -> None:
    kept = entries(3)[1]
    _rewrite("another reason")
    assert verify_chain().fault is None  # nothing inside the database can tell
    assert "written anew" in (verify_chain(known=(kept.sequence, kept.hash)).fault or "")


def test_a_note_of_an_entry_that_is_gone() -> None:
    kept = entries(3)[2]
    tamper("DELETE FROM labsys_journalentry WHERE sequence = 3")
    second = JournalEntry.objects.get(sequence=2)
    JournalHead.objects.update(sequence=2, hash=second.hash)
    assert verify_chain().fault is None
    assert "Entry 3, whose hash was noted, is missing" in (verify_chain(known=(3, kept.hash)).fault or "")


def test_one_entry_is_held_against_itself_and_the_one_before() -> None:
    entries(3)
    assert [fault_of(entry) for entry in JournalEntry.objects.all()] == [None, None, None]
    tamper("UPDATE labsys_journalentry SET reason = 'other' WHERE sequence = 2")
    assert "columns of entry 2" in (fault_of(JournalEntry.objects.get(sequence=2)) or "")
    tamper("UPDATE labsys_journalentry SET hash = previous_hash WHERE sequence = 2")
    assert "doesn't follow" in (fault_of(JournalEntry.objects.get(sequence=3)) or "")


def run(*arguments: str) -> str:
    out = io.StringIO()
    call_command("verify_journal", *arguments, stdout=out)
    return out.getvalue()


def test_the_command_prints_count_and_hash_and_takes_them_back() -> None:
    last = entries(3)[-1]
    assert run().splitlines() == ["3 entries hold together. Note this elsewhere:", note_of(last)]
    entries(2)
    assert run("--noted", note_of(last)).startswith("5 entries hold together")
    assert JournalEntry.objects.count() == 5, "the command changes nothing"


def test_the_command_fails_with_the_sentence() -> None:
    entries(2)
    tamper("DELETE FROM labsys_journalentry WHERE sequence = 1")
    with pytest.raises(CommandError, match="Entry 1 is missing.*last backup") as fault:
        run()
    assert fault.value.returncode == 1


@pytest.mark.parametrize("text", ["7", "7:abc", f"x:{'0' * 64}"])
def test_a_note_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(CommandError, match="expected an entry's number, a colon and its hash"):
        run("--noted", text)


def test_the_daily_job_records_what_it_found(caplog: pytest.LogCaptureFixture) -> None:
    last = entries(3)[-1]
    with caplog.at_level(logging.INFO, logger="labsys.jobs.verifying"):
        verify_journal()
    found = last_verification()
    assert found is not None
    assert (found.entries, found.head_hash, found.fault, found.by) == (3, last.hash, "", "The daily check")
    assert JobRun.objects.get().detail == note_of(last)
    assert note_of(last) in caplog.text, "the log is kept apart from the database"


def test_the_daily_job_walks_once_a_day(time_machine: Any) -> None:
    time_machine.move_to(NOW)
    minute = timedelta(minutes=1)
    for later in (timedelta(0), timedelta(hours=1), verifying.ONCE_IN - minute):
        time_machine.move_to(NOW + later)
        verify_journal()
    assert JobRun.objects.count() == 1
    time_machine.move_to(NOW + verifying.ONCE_IN + minute)
    verify_journal()
    assert JobRun.objects.count() == 2


def test_the_daily_job_fails_on_a_broken_chain_and_says_so_in_the_journal() -> None:
    entries(2)
    tamper("UPDATE labsys_journalentry SET reason = 'other' WHERE sequence = 1")
    with pytest.raises(ChainBroken):
        verify_journal()
    assert JobRun.objects.get().outcome == JobRun.Outcome.FAILED
    found = last_verification()
    assert found is not None and "columns of entry 1" in found.fault


def test_a_lost_head_is_said_although_nothing_can_be_written(caplog: pytest.LogCaptureFixture) -> None:
    entries(2)
    tamper("DELETE FROM labsys_journalhead")
    with pytest.raises(ChainBroken, match="head of the journal is missing"):
        verifying.verify(clock=timezone.now)
    assert "could not be written" in caplog.text
