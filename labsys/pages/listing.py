"""A list as every place shows it: filtered, sorted and paged by its address, and as a file of exactly what is shown.

Lives here: the way from an address to the page or the file. May not live here: what a list is of.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.html import format_html
from django_filters import FilterSet

from labsys.pages import export, keyset
from labsys.pages.tables import Column, Row, Table, capped_count, order_from

AT_ONCE = 2_000
"""Rows read at once for a file."""


@dataclass(frozen=True)
class Listing:
    """A kind of list: ``name`` of its file, heading, columns and their order unless the address has another.

    ``cells`` says of a record what each column shows, ``links`` which of these lead where, ``label`` names the row.
    """

    name: str
    title: str
    template: str
    columns: Sequence[Column]
    default: str
    cells: Callable[[Any], dict[str, Any]]
    links: Callable[[Any], Mapping[str, str]]
    label: Callable[[Any], str]

    def answer(self, request: HttpRequest, filters: FilterSet, **more: Any) -> HttpResponseBase:
        """Give the page the address asks for, or with ``as`` the file; a filter that makes no sense lists nothing."""
        assert filters.queryset is not None
        found = filters.qs if filters.is_valid() else filters.queryset.none()
        order = order_from(request, self.columns, default=self.default)
        fields = order.fields(self.columns)
        if request.GET.get("as"):
            headings, rows = [column.title for column in self.columns], self._lines(found.order_by(*fields))
            return export.answer(self.name, headings=headings, rows=rows, kind=request.GET["as"])
        page = keyset.page(found, order=fields, token=request.GET.get("page", ""))
        table = Table(self.title, self.columns, [self._row(one) for one in page.rows], order)
        context = {"filters": filters, "table": table, "page": page, "count": capped_count(found), **more}
        return render(request, self.template, context)

    def _row(self, record: Any) -> Row:
        said = self.cells(record)
        linked = {
            key: format_html('<a href="{}">{}</a>', address, said[key])
            for key, address in self.links(record).items()
        }
        return Row(record.pk, said | linked, self.label(record))

    def _lines(self, found: Any) -> Iterator[list[Any]]:
        for record in found.iterator(chunk_size=AT_ONCE):
            said = self.cells(record)
            yield [said[column.key] for column in self.columns]
