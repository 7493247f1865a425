"""Whether what was typed or scanned is the label of something: a stray scan is not taken for a reading."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.db.models import QuerySet

from labsys.laboratory.models import Tag

# A label's code is 32 hexadecimal digits, alone or at the end of an address.
_CODE = re.compile(r"(?:^|/)([0-9a-f]{32})/?(?:[?#].*)?$", re.IGNORECASE)
_ADDRESS = re.compile(r"^[a-z][a-z0-9+.-]*://", re.IGNORECASE)
# What begins like a number is left to the reading's own rules, even where a tag looks so.
_NUMBER = re.compile(r"^\s*[+\-\u2212]?\s*[0-9.,]+\s*[a-zµμ\"″]{0,4}\s*$", re.IGNORECASE)


@dataclass(frozen=True)
class Scan:
    """A label that was recognised; ``tag`` is None where nothing here carries its code."""

    text: str
    tag: Tag | None

    @property
    def gauge_id(self) -> int | None:
        """Give the id of the gauge that carries the tag."""
        gauge = getattr(self.tag, "gauge", None)
        return None if gauge is None else gauge.pk

    @property
    def sentence(self) -> str:
        """Say what it is, and that nothing was stored."""
        if self.tag is None:
            return "That is a label or an address, and nothing here carries its code. It was not taken for a reading."
        what = "gauge" if self.gauge_id else "standard"
        return f"That is the label of the {what} {self.tag.text}. It was not taken for a reading."


def scanned(text: str) -> Scan | None:
    """Recognise a label in what was typed: an address with a code, a bare code, a tag. None: it is none."""
    text = text.strip()
    code = _CODE.search(text)
    if code:
        return Scan(text, _tags().filter(code=code[1].lower()).first())
    if _ADDRESS.match(text):
        return Scan(text, None)
    if not text or _NUMBER.match(text):
        return None
    tag = _tags().filter(text__iexact=text).first()
    return Scan(text, tag) if tag else None


def looked_for(text: str) -> Tag | None:
    """Find the tag that a text means where a tag is asked for: typed in any case, or scanned."""
    found = scanned(text)
    return found.tag if found else _tags().filter(text__iexact=text.strip()).first()


def _tags() -> QuerySet[Tag]:
    return Tag.objects.select_related("gauge", "standard")
