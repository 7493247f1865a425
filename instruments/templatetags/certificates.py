"""Words and figures on certificates: days, places, lists of result numbers, texts inside a style sheet."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.utils.safestring import SafeString, mark_safe

from instruments.certificates.document import words
from instruments.certificates.document.parts import Document
from labsys.pages import figures, verdicts
from labsys.pages.palette import PRINT

register = template.Library()
MEANINGS = {"performed": "Measured by", "authorised": "Reviewed and authorised by"}
INKS = {"state-use": "use_mark", "state-limit": "ink", "state-stop": "sheet"}


@register.simple_tag
def days(first: date, last: date) -> str:
    """Show one day, or the first and the last of several."""
    return figures.on(first) if first == last else f"{figures.on(first)} to {figures.on(last)}"


@register.simple_tag
def place(document: Document) -> str:
    """Say where the work was done, and that it was elsewhere where it was."""
    return document.place if document.place_is_laboratory else f"{document.place}, outside the laboratory"


@register.simple_tag
def stamp(at: datetime, zone: str) -> str:
    """Show an instant in the zone that the document names."""
    return figures.when(at, zone=ZoneInfo(zone))


@register.simple_tag
def meaning(word: str) -> str:
    """Say for what somebody signs."""
    return MEANINGS.get(word, word)


@register.inclusion_tag("instruments/certificates/part_verdict.html")
def printed_verdict(value: str, large: bool = False) -> dict[str, Any]:
    """Show a verdict as field, shape and word; the renderer reads no style sheet in there, so colours are named."""
    mark = verdicts.mark(value)
    return {"mark": mark, "large": large, "color": PRINT[INKS[mark.field]]}


@register.filter
def results(numbers: Iterable[int]) -> str:
    """Write “Results 1–4, 6”."""
    text = words.results(numbers)
    return text[:1].upper() + text[1:]


@register.filter
def factor(k: Decimal) -> str:
    """Show a coverage factor with two decimals."""
    return figures.plain(k, places=2)


@register.filter
def tenths(value: Decimal) -> str:
    """Show a temperature with one decimal."""
    return figures.plain(value, places=1)


@register.filter
def sentence(text: str) -> str:
    """End a text that a person wrote with a full stop."""
    ended = text.rstrip()
    return ended if ended.endswith((".", "!", "?")) else f"{ended}."


@register.filter
def css(text: str) -> SafeString:
    """Write a text so that it can stand in quotes in a style sheet, whatever is in it."""
    return mark_safe(
        "".join(sign if sign.isalnum() or sign in " .,-" else f"\\{ord(sign):x} " for sign in text)
    )
