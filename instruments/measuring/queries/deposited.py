"""What a tablet is told of what it deposited: what became of it, and what it may delete."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from instruments.measuring.arriving import OUTCOMES
from instruments.measuring.models import Arrival, Session, SetAside

CLOSED = (Session.State.SUBMITTED, Session.State.APPROVED, Session.State.VOID)


def known_sessions(ids: Iterable[int]) -> set[int]:
    """Find which of these sessions exist."""
    return set(Session.objects.filter(pk__in=set(ids)).values_list("pk", flat=True))


def became(arrivals: Sequence[Arrival]) -> list[dict[str, Any]]:
    """Say what became of arrivals, in their order: the tablet shows the sentence of what was set aside."""
    rows = Arrival.objects.select_related(*OUTCOMES).in_bulk([one.pk for one in arrivals])
    return [_became(rows[one.pk]) for one in arrivals]


def _became(row: Arrival) -> dict[str, Any]:
    found = next((getattr(row, name) for name in OUTCOMES if hasattr(row, name)), None)
    aside = found if isinstance(found, SetAside) else None
    return {
        "id": row.client_id,
        "sha256": row.sha256,
        "session": row.session_id,
        "became": "set aside" if aside else "waiting" if found is None else "taken",
        "sentence": aside.sentence if aside else "",
    }


def receipts(session_ids: Iterable[int], device: str) -> dict[int, list[str]]:
    """List by session what this device deposited in it, for sessions that were handed in: that may be deleted there."""
    rows = Arrival.objects.filter(session__in=set(session_ids), device=device, session__state__in=CLOSED)
    found: dict[int, list[str]] = {}
    for session_id, client_id in rows.order_by("pk").values_list("session", "client_id"):
        found.setdefault(session_id, []).append(client_id)
    return found
