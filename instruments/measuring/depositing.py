"""What a tablet deposits, read envelope by envelope: one that can't be read keeps no other from being kept.

The body is ``{"grant": "bench_…", "device": "…", "sent_at": "…Z", "envelopes": […], "receipts_for": [812]}``; an
envelope is ``{"id": "…", "format": 1, "session": 812, "n": 7, "kind": "reading", "text": "{…}", "entered_at": "…Z"}``.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, ClassVar

from instruments.measuring.envelope import FORMAT, Envelope, is_id
from labsys.errors import LabError

MOST_AT_ONCE = 200
LONGEST_TEXT = 10_000
CLOCK_NOTICED_S = 2
"""Seconds by which a device's clock may differ before it is corrected: the way of the message takes some."""


class DepositUnreadable(LabError, ValueError):
    """A deposit that is none as a whole."""

    code: ClassVar[str] = "deposit-unreadable"
    sentence: ClassVar[str] = "Expected {expected}, found {found}. What the tablet holds stays there."


@dataclass(frozen=True)
class Deposit:
    """One deposit as read; ``faults`` says of an envelope that can't be kept why, by its id."""

    grant: str
    envelopes: tuple[Envelope, ...]
    receipts_for: tuple[int, ...]
    faults: dict[str, str] = field(default_factory=dict)


def read_deposit(body: bytes, now: datetime) -> Deposit:
    """Read the body of a deposit that arrived at ``now``; raises DepositUnreadable."""
    try:
        found = json.loads(body)
    except ValueError as fault:
        raise DepositUnreadable(expected="JSON", found=str(fault)[:60]) from fault
    if not isinstance(found, dict):
        raise DepositUnreadable(expected="an object", found=type(found).__name__)
    grant, device = (_text(found, name) for name in ("grant", "device"))
    rows = found.get("envelopes", [])
    if not isinstance(rows, list) or len(rows) > MOST_AT_ONCE:
        raise DepositUnreadable(
            expected=f"a list of at most {MOST_AT_ONCE} envelopes", found="something else"
        )
    off_s = _clock_off_s(found.get("sent_at"), now)
    envelopes, faults = _envelopes(rows, device, off_s)
    asked = found.get("receipts_for", [])
    receipts = tuple(one for one in asked if _is_number(one)) if isinstance(asked, list) else ()
    return Deposit(grant, envelopes, receipts, faults)


def read_one(text: str, now: datetime) -> Envelope | None:
    """Read the envelope that a tablet sends along with a form, with its device and clock; None where there is none."""
    try:
        row = json.loads(text) if text else None
    except ValueError:
        return None
    if not isinstance(row, Mapping) or _fault(row) or not _is_short(row.get("device")):
        return None
    return _envelope(row, row["device"], _clock_off_s(row.get("sent_at"), now))


def _envelopes(rows: Sequence[Any], device: str, off_s: int) -> tuple[tuple[Envelope, ...], dict[str, str]]:
    envelopes: list[Envelope] = []
    faults: dict[str, str] = {}
    for index, row in enumerate(rows):
        fault = _fault(row)
        if fault:
            faults[str(row.get("id", index)) if isinstance(row, Mapping) else str(index)] = fault
        else:
            envelopes.append(_envelope(row, device, off_s))
    return tuple(envelopes), faults


def _envelope(row: Mapping[str, Any], device: str, off_s: int) -> Envelope:
    entered_at = _instant(row.get("entered_at"))
    return Envelope(
        client_id=row["id"],
        session_id=row["session"],
        kind=row["kind"],
        text=row["text"],
        entered_at=entered_at and datetime.fromtimestamp(entered_at.timestamp() - off_s, UTC),
        device=device,
        n=row["n"],
        format=row["format"],
        clock_off_s=off_s,
    )


def _fault(row: Any) -> str:
    """Say what keeps an envelope from being kept at all; empty where nothing does. Its text is not judged here."""
    if not isinstance(row, Mapping):
        return "Expected an envelope, found something else."
    text, kind = row.get("text"), row.get("kind")
    checks = (
        (isinstance(row.get("id"), str) and is_id(row["id"]), "an id of 8 to 64 letters, digits and hyphens"),
        (row.get("format") == FORMAT, f"format {FORMAT}"),
        (_is_number(row.get("session")), "the number of a session"),
        (_is_number(row.get("n")) and row["n"] > 0, "a count from 1"),
        (isinstance(kind, str) and 0 < len(kind) <= 10 and "\x00" not in kind, "a kind"),
        (isinstance(text, str) and len(text) <= LONGEST_TEXT and "\x00" not in text, "a text"),
        (row.get("entered_at") is None or _instant(row["entered_at"]) is not None, "the time it was typed"),
    )
    return next(
        (f"Expected {expected}, found something else." for holds, expected in checks if not holds), ""
    )


def _clock_off_s(sent_at: Any, now: datetime) -> int:
    """Give the seconds by which the device's clock is ahead; 0 where it is near enough or says nothing."""
    sent = _instant(sent_at)
    off_s = 0 if sent is None else round((sent - now).total_seconds())
    return off_s if abs(off_s) > CLOCK_NOTICED_S else 0


def _instant(found: Any) -> datetime | None:
    try:
        instant = datetime.fromisoformat(found) if isinstance(found, str) else None
    except ValueError:
        return None
    return instant if instant is not None and instant.tzinfo is not None else None


def _text(found: Mapping[str, Any], name: str) -> str:
    value = found.get(name)
    if not _is_short(value):
        raise DepositUnreadable(expected=f"“{name}” as a text of at most 64 signs", found="something else")
    return str(value)


def _is_short(found: Any) -> bool:
    return isinstance(found, str) and 0 < len(found) <= 64 and "\x00" not in found


def _is_number(found: Any) -> bool:
    return isinstance(found, int) and not isinstance(found, bool) and 0 < found < 2**31
