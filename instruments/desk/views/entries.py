"""Entries of the journal in words: what was done, and each field from what to what."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from labsys.journal.models import JournalEntry
from labsys.laboratory.queries import zone
from labsys.pages import figures

_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}\+00:00")


@dataclass(frozen=True)
class Line:
    """An entry as a page shows it."""

    at: datetime
    actor_name: str
    words: str
    is_refused: bool
    changes: list[str]
    reason: str


def lines(entries: Iterable[JournalEntry]) -> list[Line]:
    """Put entries into words."""
    return [
        Line(
            at=entry.at,
            actor_name=entry.actor_name,
            words=entry.act.rpartition(".")[2].replace("-", " "),
            is_refused=entry.outcome == JournalEntry.Outcome.REFUSED,
            changes=_changes(entry),
            reason=entry.reason,
        )
        for entry in entries
    ]


def _changes(entry: JournalEntry) -> list[str]:
    """Say each field from what to what; of a refusal the reason says it all."""
    if entry.outcome == JournalEntry.Outcome.REFUSED:
        return []
    before, after = entry.before or {}, entry.after or {}
    said = []
    # By name: one of the engines doesn't keep the order in which the fields were written.
    for name in sorted({*after, *before}):
        old, new = _text(before.get(name)), _text(after.get(name))
        if old != new:
            said.append(f"{name.replace('_', ' ')}: {f'{old} → ' if old else ''}{new or 'none'}")
    return said


def _text(value: Any) -> str:
    """Write a value as people do; nothing stays nothing."""
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(_text(item) for item in value)
    if isinstance(value, dict):
        return " ".join(_text(item) for item in value.values())
    text = str(value)
    if _INSTANT.fullmatch(text):
        return figures.when(datetime.fromisoformat(text), zone=zone())
    return text
