"""Whether the certificate's own type has every sign that the document uses; the machine's fonts never step in."""

from __future__ import annotations

from typing import Any, ClassVar

from instruments.certificates.document.parts import Document
from instruments.certificates.document.text import plain
from labsys.errors import LabError
from labsys.pages.fonts import wanted


class SignNotInType(LabError, ValueError):
    """A text holds a sign that can't be printed."""

    code: ClassVar[str] = "sign-not-in-type"
    sentence: ClassVar[str] = (
        "“{text}” holds a sign that a certificate can't print: {signs}. Write it with Latin letters where it is "
        "recorded, then sign again."
    )


def require_printable(document: Document) -> None:
    """Refuse a document with signs outside the type; raises SignNotInType with the first text that has one."""
    known = wanted() | {ord("\n")}
    for text in _texts(plain(document)):
        strange = sorted({sign for sign in text if ord(sign) not in known})
        if strange:
            raise SignNotInType(text=text[:80], signs=" ".join(f"{s} (U+{ord(s):04X})" for s in strange))


def _texts(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    items = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return [text for item in items for text in _texts(item)]
