"""Reads of the journal: by subject, by act, and whether the chain still holds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from labsys.journal.door import GENESIS, canonical, hash_of
from labsys.journal.models import JournalEntry, JournalHead


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


def verify_chain() -> ChainReport:
    """Walk the chain from the beginning: numbers without gaps, texts that match their hash and their columns."""
    previous, count = GENESIS, 0
    for entry in _in_order():
        count += 1
        fault = _fault(entry, count, previous)
        if fault:
            return ChainReport(count, previous, fault)
        previous = entry.hash
    return ChainReport(count, previous, _head_fault(count, previous))


def _in_order() -> Iterator[JournalEntry]:
    return JournalEntry.objects.order_by("sequence").iterator(chunk_size=2000)


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


def _head_fault(count: int, previous: str) -> str | None:
    head = JournalHead.objects.filter(id=1).first()
    if head is None:
        return None if count == 0 else "The head of the journal is missing."
    if head.sequence != count or head.hash != previous:
        return f"The head names entry {head.sequence}, but the chain ends at {count}: entries at the end are missing."
    return None
