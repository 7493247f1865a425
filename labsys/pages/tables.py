"""Tables as data: columns, the order asked for in the address, which columns a person chose, counts that stop.

Rows and cells are made by the view; nothing here knows a model.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest

COUNT_CAP = 1000


@dataclass(frozen=True)
class Column:
    """One column: the key of its cells, its heading, and the names to order by (none: it can't be sorted by).

    The last name must be unique (``pk``), or pages would repeat or lose rows that are equal.
    """

    key: str
    title: str
    sort: tuple[str, ...] = ()
    number: bool = False
    nowrap: bool = False
    row_head: bool = False


@dataclass(frozen=True)
class Order:
    """What the table is sorted by."""

    key: str
    descending: bool = False

    @property
    def text(self) -> str:
        """Give the order as the address holds it."""
        return f"-{self.key}" if self.descending else self.key

    @property
    def flipped(self) -> Order:
        """Give the same column the other way round."""
        return Order(self.key, not self.descending)

    def fields(self, columns: Sequence[Column]) -> tuple[str, ...]:
        """Give the names for ``order_by``, all turned round where the order is descending."""
        names = next(column.sort for column in columns if column.key == self.key)
        return tuple(_turn(name) for name in names) if self.descending else names


def _turn(name: str) -> str:
    return name[1:] if name.startswith("-") else f"-{name}"


def order_from(request: HttpRequest, columns: Sequence[Column], *, default: str) -> Order:
    """Read the order from the address; a column that can't be sorted by falls back to the default."""
    asked = request.GET.get("order", default)
    sortable = {column.key for column in columns if column.sort}
    key = asked.removeprefix("-")
    if key not in sortable:
        asked, key = default, default.removeprefix("-")
    return Order(key, asked.startswith("-"))


def chosen_columns(
    request: HttpRequest, columns: Sequence[Column], *, table: str, default: Iterable[str]
) -> list[Column]:
    """Give the columns to show, in their own order: asked for now, chosen before (kept with the session), or default.

    The row's head always stays, so that no choice leaves a table without names.
    """
    kept = f"columns:{table}"
    if "columns" in request.GET:
        request.session[kept] = request.GET.getlist("columns")
    wanted = set(request.session.get(kept) or default)
    return [column for column in columns if column.key in wanted or column.row_head]


@dataclass(frozen=True)
class Count:
    """How many there are, or that there are more than were counted."""

    value: int
    is_capped: bool = False

    def __str__(self) -> str:
        """Give the number as a person reads it, such as 412 or 1,000+."""
        return f"{self.value:,}{'+' if self.is_capped else ''}"


def capped_count(queryset: QuerySet, *, cap: int = COUNT_CAP) -> Count:
    """Count no further than the cap: counting a million rows costs more than the page."""
    found = queryset.order_by().values("pk")[: cap + 1].count()
    return Count(min(found, cap), is_capped=found > cap)


@dataclass(frozen=True)
class Row:
    """One row: the id that bulk acts select by, and its cells by column key."""

    pk: Any
    cells: Mapping[str, Any]
    name: str = ""


@dataclass(frozen=True)
class Table:
    """A table ready to be shown; ``bulk`` adds a box to each row."""

    caption: str
    columns: Sequence[Column]
    rows: Sequence[Row]
    order: Order | None = None
    bulk: bool = False
    offered: Sequence[Column] = field(default_factory=tuple)

    @property
    def lines(self) -> list[tuple[Row, list[tuple[Column, Any]]]]:
        """Give each row with its cells in the order of the columns."""
        return [
            (row, [(column, row.cells.get(column.key, "")) for column in self.columns]) for row in self.rows
        ]
