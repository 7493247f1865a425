"""What was set aside and then typed again is answered for by the value that counted."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from instruments.measuring.envelope import Content, EnvelopeUnreadable
from instruments.measuring.models import Arrival, SetAside
from labsys.accounts.models import Person

# What two envelopes of a kind share when the later one says again what the earlier one meant to say.
_SAME: dict[str, tuple[str, ...]] = {
    Arrival.Kind.READING: ("point",),
    Arrival.Kind.ZERO: ("run", "kind"),
    Arrival.Kind.CONDITION: ("run",),
}


def answer_earlier(arrival: Arrival, resolution: str, by: Person, now: datetime) -> None:
    """Answer for what was set aside before at the same place of the session: one that counts has followed it."""
    wanted = _place(arrival)
    earlier = SetAside.objects.filter(
        arrival__session=arrival.session_id, arrival__kind=arrival.kind, resolved_at=None
    ).select_related("arrival")
    for row in earlier:
        if _place(row.arrival) == wanted:
            row.resolved_at, row.resolved_by, row.resolution = now, by.name, resolution[:200]
            row.save(update_fields=["resolved_at", "resolved_by", "resolution"])


def _place(arrival: Arrival) -> tuple[Any, ...] | None:
    """Say what an envelope speaks of; None where its text can't be read."""
    try:
        fields = Content(arrival.text).fields
    except EnvelopeUnreadable:
        return None
    return tuple(fields.get(name) for name in _SAME[arrival.kind])
