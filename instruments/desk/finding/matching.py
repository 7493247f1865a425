"""Picks rows by a text: what reads exactly so first, then what begins with it, then what holds it.

Each column is asked by itself and for so many rows at most: an index answers for one column, while a question over
several tables at once, or an order over all that holds a text, reads every row there is.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeVar

from django.db.models import Model, QuerySet, Value
from django.db.models.functions import Lower

Row = TypeVar("Row", bound=Model)

MOST = 20
"""Shown of each kind."""

ENOUGH = 200
"""Read of each column. A text that is in more rows than these is too short to tell which one is meant."""


def picked(rows: QuerySet[Row], text: str, *columns: str) -> list[Row]:
    """Give up to ``MOST`` + 1 rows that hold ``text`` in one of the columns, whatever the capitals, the best first."""
    best: dict[Any, tuple[int, str]] = {}
    for column in columns:
        for key, value in _holding(rows, text, column):
            rank = (_rank(value, text), value)
            best[key] = min(rank, best.get(key, rank))
    keys = sorted(best, key=lambda key: (*best[key], key))[: MOST + 1]
    found = {row.pk: row for row in rows.filter(pk__in=keys)} if keys else {}
    return [found[key] for key in keys]


def _holding(rows: QuerySet[Row], text: str, column: str) -> Iterable[tuple[Any, str]]:
    """Read keys and values: those that read exactly so in any case, however many others hold the text."""
    bare = rows.order_by().select_related(None).prefetch_related(None)
    # Compared as Lower, because that is how the index keeps tags; ``iexact`` would read them all.
    exact = bare.annotate(low=Lower(column)).filter(low=Lower(Value(text)))
    yield from exact.values_list("pk", column)[:ENOUGH]
    yield from bare.filter(**{f"{column}__icontains": text}).values_list("pk", column)[:ENOUGH]


def _rank(value: str, text: str) -> int:
    low, asked = value.lower(), text.lower()
    return 0 if low == asked else 1 if low.startswith(asked) else 2
