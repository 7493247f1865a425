"""From a posted form to the envelope that would have come by any other way: the same kinds, the same texts.

The text holds only what was typed and chosen, no time, so that a form sent twice is one arrival.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.http import QueryDict

from instruments.measuring.depositing import read_one
from instruments.measuring.envelope import Envelope, is_id
from instruments.measuring.models import Arrival, Reading, Session
from labsys.journal.door import canonical


def fresh_id() -> str:
    """Make the id that a form carries, so that a double send is one arrival."""
    return str(uuid.uuid4())


def compose(posted: QueryDict, session: Session, now: datetime) -> Envelope:
    """Make the envelope of a posted form. Nothing is judged here: what can't be read is for the settling to say.

    A tablet that keeps what was typed sends its own envelope along, so that this way and a deposit are one arrival.
    """
    own = read_one(posted.get("envelope", ""), now)
    if own is not None and own.session_id == session.pk:
        return own
    kind = posted.get("kind", "").replace("\x00", "")[:10]
    fields = _FIELDS.get(kind, _everything)(posted)
    given = posted.get("client_id", "")
    return Envelope(
        client_id=given if is_id(given) else fresh_id(),
        session_id=session.pk,
        kind=kind,
        text=canonical(fields),
        entered_at=now,
    )


def _reading(posted: QueryDict) -> dict[str, Any]:
    source = posted.get("source", "")
    by_cable = source == Reading.Source.CABLE
    return {
        "point": _number(posted, "point"),
        "source": Reading.Source.CABLE.value if by_cable else Reading.Source.TYPED.value,
        **_raw(posted),
    }


def _zero(posted: QueryDict) -> dict[str, Any]:
    return {"run": _number(posted, "run"), "kind": posted.get("zero", ""), **_raw(posted)}


def _raw(posted: QueryDict) -> dict[str, Any]:
    """Give what was typed; confirmed only where the confirmation names the very text that is sent."""
    raw = posted.get("raw", "").strip()
    confirmed = raw != "" and posted.get("confirmed", "").strip() == raw
    return {"raw": raw, "confirmed": True} if confirmed else {"raw": raw}


def _strike(posted: QueryDict) -> dict[str, Any]:
    return {
        "reading": _number(posted, "reading"),
        "reason": posted.get("reason", ""),
        "note": posted.get("note", "").strip()[:200],
    }


def _answer(posted: QueryDict) -> dict[str, Any]:
    return {
        "run": _number(posted, "run"),
        "code": posted.get("code", ""),
        "answer": posted.get("answer", ""),
        "note": posted.get("note", "").strip()[:300],
    }


def _condition(posted: QueryDict) -> dict[str, Any]:
    if posted.get("from_log"):
        return {"run": _number(posted, "run"), "sensor": _number(posted, "sensor"), "from_log": True}
    fields: dict[str, Any] = {
        "run": _number(posted, "run"),
        "temperature_c": posted.get("temperature_c", "").strip(),
        "humidity_percent": posted.get("humidity_percent", "").strip(),
    }
    if posted.get("sensor"):
        fields["sensor"] = _number(posted, "sensor")
    return fields


def _everything(posted: QueryDict) -> dict[str, Any]:
    """Keep all fields of a kind nobody knows, so that nothing typed is lost."""
    return {name: value for name, value in posted.items() if name != "csrfmiddlewaretoken"}


def _number(posted: QueryDict, name: str) -> Any:
    """Give an id as a number, or the text as it came for the settling to refuse."""
    found = posted.get(name, "")
    return int(found) if found.isascii() and found.isdigit() and len(found) < 19 else found


_FIELDS: dict[str, Callable[[QueryDict], dict[str, Any]]] = {
    Arrival.Kind.READING: _reading,
    Arrival.Kind.ZERO: _zero,
    Arrival.Kind.STRIKE: _strike,
    Arrival.Kind.ANSWER: _answer,
    Arrival.Kind.CONDITION: _condition,
}
