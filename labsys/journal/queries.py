"""Reads of the journal: by subject, by act, and whether the chain still holds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from labsys.journal.door import GENESIS, canonical, hash_of
from labsys.journal.models import JournalEntry, JournalHead

VERIFY = "journal.verify"
"""The act that records what a walk of the chain found."""

_BEFORE_ALL, _PORTION = -(2**63), 2000


@dataclass(frozen=True)
class ChainReport:
    """What walking the whole chain found: how many entries, and the first fault in a sentence (None: it holds)."""

    entries: int
    head_hash: str
    fault: str | None


def about(subject: str) -> QuerySet[JournalEntry]:
    """Find the entries about one subject, newest first."""
    return JournalEntry.objects.filter(subject=subject)


def entries() -> QuerySet[JournalEntry]:
    """Find all entries, newest first."""
    return JournalEntry.objects.all()


def verify_chain(*, known: tuple[int, str] | None = None) -> ChainReport:
    """Walk the chain from the beginning: numbers without gaps, texts that match their hash and their columns.

    People may go on acting meanwhile. The head is read first, so every entry up to it must be there and carry it;
    those that came since must be covered by the head as it is at the end. ``known`` is a number and a hash noted
    earlier, outside the database: only that tells a chain that somebody computed anew as a whole.
    """
    head = JournalHead.objects.filter(id=1).first()
    previous, count = GENESIS, 0
    for entry in _in_order():
        count += 1
        fault = _fault(entry, count, previous) or _differs(entry, head, known)
        if fault:
            return ChainReport(count, previous, fault)
        previous = entry.hash
    return ChainReport(count, previous, _end_fault(count, head) or _unmet(count, known))


def _in_order() -> Iterator[JournalEntry]:
    """Read the entries in portions: one cursor over a long journal would hold it all in a file of the server's."""
    last = _BEFORE_ALL
    while portion := list(JournalEntry.objects.filter(sequence__gt=last).order_by("sequence")[:_PORTION]):
        yield from portion
        last = portion[-1].sequence


def _fault(entry: JournalEntry, expected: int, previous: str) -> str | None:
    if entry.sequence != expected:
        return f"Entry {expected} is missing: the next one found is {entry.sequence}."
    if entry.previous_hash != previous:
        return f"Entry {entry.sequence} doesn't follow the entry before it."
    if hash_of(entry.canonical) != entry.hash:
        return f"The text of entry {entry.sequence} doesn't match its hash."
    if canonical(columns(entry)) != entry.canonical:
        return f"The columns of entry {entry.sequence} don't match its text."
    return None


def columns(entry: JournalEntry) -> dict[str, Any]:
    """Read back the fields that the canonical text was made of."""
    names = (
        "sequence at recorded_at actor_id actor_name actor_role act subject outcome reason before after"
        " request_id previous_hash"
    )
    return {name: getattr(entry, name) for name in names.split()}


def _differs(entry: JournalEntry, head: JournalHead | None, known: tuple[int, str] | None) -> str | None:
    """Compare an entry with the head as it was at the start, and with what was noted outside the database."""
    if head is not None and entry.sequence == head.sequence and entry.hash != head.hash:
        return f"The head doesn't carry the hash of entry {entry.sequence}, which it names."
    if known is not None and entry.sequence == known[0] and entry.hash != known[1]:
        return f"Entry {entry.sequence} isn't the one whose hash was noted: the chain was written anew."
    return None


def _end_fault(count: int, head: JournalHead | None) -> str | None:
    """Say what is wrong with the end of a chain of ``count`` entries; ``head`` as it was before they were read."""
    now = JournalHead.objects.filter(id=1).first()
    if now is None:
        return None if count == 0 else "The head of the journal is missing."
    if head is not None and head.sequence > count:
        return f"The head names entry {head.sequence}, but the chain ends at {count}: entries at the end are missing."
    if now.sequence < count:
        return f"The head names entry {now.sequence}, but the chain goes on to {count}: these came past the door."
    return None


def _unmet(count: int, known: tuple[int, str] | None) -> str | None:
    if known is None or known[0] <= count:
        return None
    return f"Entry {known[0]}, whose hash was noted, is missing: the chain ends at {count}."


def fault_of(entry: JournalEntry) -> str | None:
    """Say what is wrong with one entry by itself and with the one before it; None where both agree."""
    before = JournalEntry.objects.filter(sequence=entry.sequence - 1).values_list("hash", flat=True).first()
    return _fault(entry, entry.sequence, before or GENESIS)


@dataclass(frozen=True)
class Verification:
    """When the chain was last walked, by whom, how many entries it had, and what was wrong then ("" : nothing)."""

    at: datetime
    by: str
    entries: int
    head_hash: str
    fault: str


def last_verification() -> Verification | None:
    """Find what the last walk of the whole chain found; None before the first."""
    entry = JournalEntry.objects.filter(act=VERIFY, outcome=JournalEntry.Outcome.DONE).first()
    if entry is None or entry.after is None:
        return None
    found = entry.after
    return Verification(entry.at, entry.actor_name, found["entries"], found["head"], found["fault"])
