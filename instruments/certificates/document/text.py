"""A document as the one text that is hashed and signed, and back again. Decimals and days travel as strings."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from types import UnionType
from typing import Any, ClassVar, get_args, get_origin, get_type_hints

from instruments.certificates.document.parts import FORMAT, Document
from labsys.errors import LabError
from labsys.journal.door import canonical


class DocumentUnreadable(LabError, ValueError):
    """A stored document that lacks a field, or holds what can't be read."""

    code: ClassVar[str] = "document-unreadable"
    sentence: ClassVar[str] = (
        "The stored certificate can't be read: at “{place}” expected {expected}, found {found}. "
        "Restore the record from a backup; the issued file is not affected."
    )


def dump(document: Document) -> str:
    """Write the canonical text of a document: sorted keys, no spaces, every field, decimals as strings.

    One of an earlier format is written with the fields it had, so that what was signed comes out again.
    """
    told = plain(document)
    if document.format < FORMAT:
        for line in (line for stage in told["stages"] for line in stage["lines"]):
            for name in _LATER:
                del line[name]
    return canonical(told)


def load(text: str) -> Document:
    """Read what ``dump`` wrote, of any format up to the present one; raises DocumentUnreadable naming the place."""
    try:
        stored = json.loads(text)
    except json.JSONDecodeError as fault:
        raise DocumentUnreadable(place="the text", expected="JSON", found=str(fault)) from fault
    found = stored.get("format") if isinstance(stored, dict) else None
    if not isinstance(found, int) or not 1 <= found <= FORMAT:
        raise DocumentUnreadable(place="format", expected=f"format 1 to {FORMAT}", found=found)
    document: Document = _read(Document, _grown(stored) if found < FORMAT else stored, "")
    return document


def _grown(stored: dict[str, Any]) -> dict[str, Any]:
    """Give a document of format 1 what its lines got later, as it was meant then; the stored text stays as it is."""
    stages = stored.get("stages")
    return (
        {**stored, "stages": [_grown_stage(stage) for stage in stages]}
        if isinstance(stages, list)
        else stored
    )


def _grown_stage(stage: Any) -> Any:
    lines = stage.get("lines") if isinstance(stage, dict) else None
    if not isinstance(lines, list):
        return stage
    return {**stage, "lines": [{**_LATER, **line} if isinstance(line, dict) else line for line in lines]}


_LATER = {"kind": "error", "name": "", "step": ""}


def plain(value: Any) -> Any:
    """Turn dataclasses into dicts, all the way down; what JSON doesn't hold is left to the canonical writer."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [plain(item) for item in value]
    return value


def _read(wanted: Any, value: Any, place: str) -> Any:
    if isinstance(wanted, UnionType):
        return None if value is None else _read(get_args(wanted)[0], value, place)
    if get_origin(wanted) is tuple:
        items = _expect(value, list, "a list", place)
        return tuple(_read(get_args(wanted)[0], item, f"{place}[{n}]") for n, item in enumerate(items))
    if is_dataclass(wanted):
        return _part(wanted, _expect(value, dict, "named fields", place), place)
    if wanted in (str, int, bool):
        return _expect(value, wanted, _WORDS[wanted], place)
    return _from_text(wanted, _expect(value, str, _WORDS[wanted], place), place)


def _part(wanted: Any, stored: dict[str, Any], place: str) -> Any:
    hints = _hints(wanted)
    for name in (*(hints.keys() - stored.keys()), *(stored.keys() - hints.keys())):
        expected = "a field" if name in hints else "no such field"
        raise DocumentUnreadable(place=_inside(place, name), expected=expected, found=stored.get(name))
    return wanted(**{name: _read(hints[name], stored[name], _inside(place, name)) for name in hints})


@lru_cache
def _hints(wanted: Any) -> dict[str, Any]:
    return get_type_hints(wanted)


_WORDS: dict[Any, str] = {
    str: "a text",
    int: "a whole number",
    bool: "true or false",
    Decimal: "a decimal as text",
    date: "a day as text",
    datetime: "an instant as text",
}


def _expect(value: Any, wanted: Any, words: str, place: str) -> Any:
    if not isinstance(value, wanted) or (wanted is int and isinstance(value, bool)):
        raise DocumentUnreadable(place=place, expected=words, found=value)
    return value


def _from_text(wanted: Any, text: str, place: str) -> Any:
    try:
        if wanted is Decimal:
            return Decimal(text)
        return wanted.fromisoformat(text)
    except (InvalidOperation, ValueError) as fault:
        raise DocumentUnreadable(place=place, expected=_WORDS[wanted], found=text) from fault


def _inside(place: str, name: str) -> str:
    return f"{place}.{name}" if place else name
