"""Pages that don't jump: each begins after the last row of the one before, so new rows move nothing.

Page 18,000 of a million rows costs what the first one costs. The fields of the order must not be null, and the last
one must be unique.
"""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Model, Q, QuerySet

from labsys.errors import LabError

PAGE_SIZE = 50


class StrangePage(LabError, ValueError):
    """The address names a page that this list does not have."""

    code = "strange-page"
    sentence = (
        "The address names a page that doesn't belong to this list. Open the list again from its first page."
    )


@dataclass(frozen=True)
class Page:
    """Some rows, and the tokens of the pages before and after them (empty where there is none)."""

    rows: list[Any]
    before: str
    after: str


def page(queryset: QuerySet, *, order: Sequence[str], token: str = "", size: int = PAGE_SIZE) -> Page:
    """Give the page that a token names, the first one for an empty token; raises StrangePage for a false token."""
    backwards, values = _read(queryset.model, order, token) if token else (False, None)
    names = [_turn(name) for name in order] if backwards else list(order)
    found = queryset.order_by(*names)
    if values is not None:
        found = found.filter(beyond(names, values))
    rows = list(found[: size + 1])
    more = len(rows) > size
    rows = rows[:size]
    if backwards:
        rows.reverse()
    earlier, later = (more, True) if backwards else (values is not None, more)
    return Page(
        rows=rows,
        before=_write("b", rows[0], order) if rows and earlier else "",
        after=_write("a", rows[-1], order) if rows and later else "",
    )


def beyond(names: Sequence[str], values: Sequence[Any]) -> Q:
    """Give the condition "comes after these values in this order".

    The first field's bound stands beside the alternatives although they imply it: with it the database starts at the
    right place of the index instead of reading up to it.
    """
    alternatives = Q()
    for last in range(len(names)):
        equal = {_bare(name): value for name, value in zip(names[:last], values[:last], strict=True)}
        alternatives |= Q(**equal, **{_bound(names[last]): values[last]})
    first = Q(**{f"{_bound(names[0])}e": values[0]})
    return first & alternatives


def _bare(name: str) -> str:
    return name.removeprefix("-")


def _bound(name: str) -> str:
    return f"{_bare(name)}__{'lt' if name.startswith('-') else 'gt'}"


def _turn(name: str) -> str:
    return name[1:] if name.startswith("-") else f"-{name}"


def _write(side: str, row: Any, order: Sequence[str]) -> str:
    values = [_value(row, _bare(name)) for name in order]
    packed = json.dumps([side, *values], cls=DjangoJSONEncoder, separators=(",", ":"))
    return base64.urlsafe_b64encode(packed.encode()).decode().rstrip("=")


def _value(row: Any, name: str) -> Any:
    for part in name.split("__"):
        row = getattr(row, part)
    return row


def _read(model: type[Model], order: Sequence[str], token: str) -> tuple[bool, list[Any]]:
    try:
        packed = base64.urlsafe_b64decode(token + "=" * (-len(token) % 4))
        side, *values = json.loads(packed)
        if side not in ("a", "b") or len(values) != len(order):
            raise StrangePage()
        return side == "b", [
            _typed(model, _bare(name), value) for name, value in zip(order, values, strict=True)
        ]
    except (binascii.Error, ValueError, TypeError, ValidationError) as error:
        raise StrangePage() from error


def _typed(model: type[Model], name: str, value: Any) -> Any:
    """Give the value in its field's own type; a value of no field (an annotation) stays as it is."""
    *path, last = name.split("__")
    for part in path:
        related = model._meta.get_field(part).related_model
        if not isinstance(related, type):
            return value
        model = related
    if last == "pk":
        return model._meta.pk.to_python(value)
    try:
        found = model._meta.get_field(last)
    except FieldDoesNotExist:
        return value
    return found.to_python(value) if hasattr(found, "to_python") else value
