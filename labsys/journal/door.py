"""The door of acts: every change of state passes here, is one transaction, and leaves its entry in the chain.

``@act("inventory.register-gauge")`` wraps a keyword-only operation that takes ``by`` and ``now``. Acts called
inside an act join its transaction; their entries are buffered and written together as the last thing the outermost
act does, so that the head of the chain is locked as briefly as can be. A refusal (``LabError``) rolls everything
back and is then written by itself, so that attempts leave a trace too.
"""

from __future__ import annotations

import functools
import hashlib
import json
from collections.abc import Callable, Iterable
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, ParamSpec, Protocol, TypeVar

from django.db import transaction

from labsys.errors import LabError
from labsys.journal.models import JournalEntry, JournalHead
from labsys.logs import request_id

P = ParamSpec("P")
R = TypeVar("R")

GENESIS = "0" * 64


@dataclass(frozen=True)
class Actor:
    """Who acts: the identity as a text, the name and the role at that moment. Jobs act under ids of their own."""

    id: str
    name: str
    role: str

    def as_actor(self) -> Actor:
        """Give itself, so that a job and a person can stand in the same argument."""
        return self

    def may(self, permission: str) -> bool:
        """Say yes: what a job does, the program itself decided."""
        return True


class Acting(Protocol):
    """Whoever can stand as ``by`` in an act: a person, or an actor for a job."""

    def as_actor(self) -> Actor:
        """Freeze who this is now."""
        ...

    def may(self, permission: str) -> bool:
        """Say whether the permission is held."""
        ...


@dataclass(frozen=True)
class Note:
    """What one act says about one subject; ``before`` and ``after`` hold the fields that changed."""

    subject: str
    act: str
    reason: str = ""
    before: dict[str, Any] | None = None
    after: dict[str, Any] | None = None


@dataclass
class _Open:
    """The outermost act under way in this context."""

    actor: Actor
    now: datetime
    acts: list[str]
    notes: list[Note] = field(default_factory=list)


_open: ContextVar[_Open | None] = ContextVar("open_act", default=None)

known_acts: set[str] = set()
"""The names of all acts of the program, gathered as their modules are imported."""


class UnjournalledAct(AssertionError):
    """An act changed something and said nothing: a fault of the program, not of its user."""


def act(name: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Make a keyword-only operation an act called ``name`` (``topic.verb-noun``)."""

    def decorate(operation: Callable[P, R]) -> Callable[P, R]:
        known_acts.add(name)

        @functools.wraps(operation)
        def run(*args: P.args, **kwargs: P.kwargs) -> R:
            outer = _open.get()
            if outer is not None:
                return _inner(outer, name, operation, *args, **kwargs)
            return _outermost(name, operation, *args, **kwargs)

        run.act_name = name  # type: ignore[attr-defined]
        return run

    return decorate


def note(
    subject: str,
    *,
    reason: str = "",
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> None:
    """Say what the running act did to ``subject``; written when the outermost act ends well."""
    current = _open.get()
    if current is None:
        raise UnjournalledAct("note() was called outside an act")
    current.notes.append(Note(subject, current.acts[-1], reason, before, after))


def _inner(outer: _Open, name: str, operation: Callable[P, R], /, *args: P.args, **kwargs: P.kwargs) -> R:
    outer.acts.append(name)
    try:
        return operation(*args, **kwargs)
    finally:
        outer.acts.pop()


def _outermost(name: str, operation: Callable[P, R], /, *args: P.args, **kwargs: P.kwargs) -> R:
    by: Acting = kwargs["by"]  # type: ignore[assignment]
    now: datetime = kwargs["now"]  # type: ignore[assignment]
    actor = by.as_actor()
    current = _Open(actor, now, [name])
    token = _open.set(current)
    try:
        with transaction.atomic():
            result = operation(*args, **kwargs)
            if not current.notes:
                raise UnjournalledAct(f"{name} left no entry")
            write(actor, now, current.notes)
        return result
    except LabError as refusal:
        subject = str(refusal.data.get("subject", ""))
        refused = Note(subject, name, str(refusal), None, {"code": refusal.code, **_plain(refusal.data)})
        with transaction.atomic():
            write(actor, now, [refused], outcome=JournalEntry.Outcome.REFUSED)
        raise
    finally:
        _open.reset(token)


def write(
    actor: Actor, now: datetime, notes: Iterable[Note], *, outcome: str = JournalEntry.Outcome.DONE
) -> list[JournalEntry]:
    """Chain ``notes`` to the head in one lock. The caller holds the transaction."""
    head, _ = JournalHead.objects.get_or_create(id=1, defaults={"sequence": 0, "hash": GENESIS})
    head = JournalHead.objects.select_for_update().get(id=1)
    recorded_at = datetime.now(UTC)
    entries: list[JournalEntry] = []
    for item in notes:
        entry = _entry(head, actor, now, recorded_at, item, outcome)
        head.sequence, head.hash = entry.sequence, entry.hash
        entries.append(entry)
    JournalEntry.objects.bulk_create(entries, batch_size=500)
    head.save(update_fields=["sequence", "hash"])
    return entries


def _entry(
    head: JournalHead, actor: Actor, now: datetime, recorded_at: datetime, item: Note, outcome: str
) -> JournalEntry:
    fields: dict[str, Any] = {
        "sequence": head.sequence + 1,
        "at": now,
        "recorded_at": recorded_at,
        "actor_id": actor.id,
        "actor_name": actor.name,
        "actor_role": actor.role,
        "act": item.act,
        "subject": item.subject,
        "outcome": str(outcome),
        "reason": item.reason,
        "before": _plain(item.before),
        "after": _plain(item.after),
        "request_id": request_id.get(),
        "previous_hash": head.hash,
    }
    text = canonical(fields)
    return JournalEntry(**fields, canonical=text, hash=hash_of(text))


def canonical(value: Any) -> str:
    """Write a value as the one text that is hashed: sorted keys, no spaces, decimals and times as strings."""
    return json.dumps(_plain(value), sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def hash_of(text: str) -> str:
    """Compute the SHA-256 of a canonical text, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    """Reduce to what JSON holds; decimals, dates and instants become strings."""
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, date):
        return value.isoformat()
    if value is None or isinstance(value, str | int | float | bool):
        return value
    return str(value)
