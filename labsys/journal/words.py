"""How entries read: an act's name as people say it, and what it changed, field by field."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings

from labsys.pages.figures import when

# As the door writes an instant into an entry.
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}\+00:00")


def act_words(name: str) -> str:
    """Give ``inventory.register-gauge`` as “register gauge”."""
    return name.rpartition(".")[2].replace("-", " ")


def topic_words(name: str) -> str:
    """Give the part of the laboratory's work an act belongs to: ``inventory.register-gauge`` → “inventory”."""
    return name.partition(".")[0]


@dataclass(frozen=True)
class Change:
    """One field of an entry, before and after; empty where the entry doesn't say."""

    field: str
    before: str
    after: str


def changes(before: dict[str, Any] | None, after: dict[str, Any] | None) -> list[Change]:
    """List what an entry says, field by field, in the order it was written."""
    old, new = before or {}, after or {}
    names = [*old, *(name for name in new if name not in old)]
    return [Change(name.replace("_", " "), _said(old, name), _said(new, name)) for name in names]


def in_short(before: dict[str, Any] | None, after: dict[str, Any] | None, *, most: int = 2) -> str:
    """Give what an entry says in one line, at most ``most`` fields of it."""
    found = [change for change in changes(before, after) if change.after or change.before]
    said = [f"{change.field} {' '.join((change.after or change.before).split())}" for change in found]
    more = f" and {len(said) - most} more" if len(said) > most else ""
    return "; ".join(_cut(one) for one in said[:most]) + more


def _cut(text: str, *, most: int = 50) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _said(values: dict[str, Any], name: str) -> str:
    return _written(values[name]) if name in values else ""


def _written(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list) and all(isinstance(item, str | int | float) for item in value):
        return ", ".join(str(item) for item in value) or "none"
    if isinstance(value, dict):
        return "; ".join(f"{key.replace('_', ' ')} {_written(one)}" for key, one in value.items())
    if isinstance(value, list):
        return "\n".join(_written(one) for one in value)
    text = str(value)
    return (
        when(datetime.fromisoformat(text), zone=ZoneInfo(settings.LAB_ZONE))
        if _INSTANT.fullmatch(text)
        else text
    )
