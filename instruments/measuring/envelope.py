"""What the bench sends: an envelope with an id of its own, a kind, and a small JSON text.

Kinds and their texts:

- ``reading``: ``{"point": 12, "raw": "25.02", "measured_at": "…Z", "source": "typed|cable|import",
  "confirmed": true}`` (``confirmed``: the gauge does show what was asked about; in a ``zero`` too)
- ``strike``: ``{"reading": 7, "reason": "seating", "note": ""}``
- ``answer``: ``{"run": 3, "code": "faces", "answer": "good", "note": ""}``
- ``condition``: ``{"run": 3, "temperature_c": "20.1", "humidity_percent": "48", "sensor": 4}``, or from the
  thermometer's log ``{"run": 3, "sensor": 4, "from_log": true}``
- ``zero``: ``{"run": 3, "kind": "as-found|set|closing", "raw": "0.00"}``
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from typing import Any, ClassVar

from labsys.errors import LabError

FORMAT = 1

_ID = re.compile(r"[A-Za-z0-9-]{8,64}")
_UNKEEPABLE = re.compile("[\x00\ud800-\udfff]")
"""What no database keeps in a text: the zero sign, and halves of a pair of signs."""


def is_id(text: str) -> bool:
    """Say whether a text can be the id of an envelope."""
    return _ID.fullmatch(text) is not None


class EnvelopeUnreadable(LabError, ValueError):
    """The text of an envelope isn't what its kind promises."""

    code: ClassVar[str] = "envelope-unreadable"
    sentence: ClassVar[str] = (
        "What the bench sent can't be read: expected {expected}, found {found}. It is kept; type it again."
    )


@dataclass(frozen=True)
class Envelope:
    """One thing typed or sent at the bench, exactly as it came. ``client_id`` is made where it was typed."""

    client_id: str
    session_id: int
    kind: str
    text: str
    entered_at: datetime | None = None
    device: str = ""
    n: int | None = None
    format: int = FORMAT
    clock_off_s: int = 0

    @property
    def sha256(self) -> str:
        """Give the hash that tells the same content from other content under the same id."""
        return hashlib.sha256(f"{self.format}\n{self.kind}\n{self.text}".encode()).hexdigest()


class Content:
    """Reads the fields of an envelope's text, naming what is missing or wrong."""

    def __init__(self, text: str) -> None:
        try:
            found = json.loads(text)
        except json.JSONDecodeError:
            raise EnvelopeUnreadable(expected="a JSON text", found=_shown(text)) from None
        if not isinstance(found, dict):
            raise EnvelopeUnreadable(expected="named fields", found=_shown(text))
        self.fields: dict[str, Any] = found

    def text(self, name: str, default: str | None = None, *, longest: int | None = None) -> str:
        """Read a text of at most ``longest`` signs; without a default it must be there."""
        found = self.fields.get(name, default)
        if not isinstance(found, str) or _UNKEEPABLE.search(found):
            raise EnvelopeUnreadable(expected=f"a text “{name}”", found=_shown(found))
        if longest is not None and len(found) > longest:
            raise EnvelopeUnreadable(expected=f"a {name} of at most {longest} signs", found=f"{len(found)}")
        return found

    def one_of(self, name: str, choices: Sequence[str], default: str | None = None) -> str:
        """Read a word that must be one of ``choices``."""
        found = self.text(name, default)
        if found not in choices:
            raise EnvelopeUnreadable(expected=f"a {name} of {', '.join(choices)}", found=_shown(found))
        return found

    def number(self, name: str) -> int:
        """Read an id."""
        found = self.fields.get(name)
        if isinstance(found, bool) or not isinstance(found, int):
            raise EnvelopeUnreadable(expected=f"a number “{name}”", found=_shown(found))
        return found

    def decimal(self, name: str) -> Decimal | None:
        """Read a decimal given as text, with comma or point; None when it is empty or missing."""
        found = self.text(name, "").strip().replace(",", ".").replace("\u2212", "-")
        if not found:
            return None
        try:
            value = Decimal(found)
        except InvalidOperation:
            raise EnvelopeUnreadable(expected=f"a number for {_words(name)}", found=_shown(found)) from None
        if not value.is_finite():
            raise EnvelopeUnreadable(expected=f"a number for {_words(name)}", found=_shown(found))
        return value

    def instant(self, name: str, default: datetime) -> datetime:
        """Read an instant in ISO form with its offset."""
        found = self.fields.get(name)
        if found is None:
            return default
        try:
            instant = datetime.fromisoformat(str(found))
        except ValueError:
            raise EnvelopeUnreadable(expected=f"an instant “{name}”", found=_shown(found)) from None
        return instant if instant.tzinfo else instant.replace(tzinfo=UTC)


def _words(name: str) -> str:
    return name.removesuffix("_c").removesuffix("_percent").replace("_", " ")


def _shown(found: object) -> str:
    """Show what came in a sentence: shortened, and without what can't be kept."""
    return _UNKEEPABLE.sub("\N{REPLACEMENT CHARACTER}", str(found))[:60]
