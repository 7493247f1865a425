"""The list of standards: what each is, its state, when it is due, and who relies on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html

from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date
from labsys.pages import export, figures, keyset, tables
from labsys.pages.tables import Column
from standards.register import panels
from standards.register.access import MANAGE_STANDARDS
from standards.register.filters import StandardFilter
from standards.register.models import Standard, StandardState
from standards.register.queries import listed

COLUMNS = (
    Column("tag", "Tag", sort=("tag__text", "pk"), row_head=True),
    Column("name", "Name", sort=("name", "pk")),
    Column("kind", "Kind", sort=("kind", "pk")),
    Column("serial", "Serial", sort=("serial", "pk")),
    Column("place", "Place", sort=("place__name", "pk")),
    Column("state", "State", sort=("state_at", "pk"), nowrap=True),
    Column("due", "Due", sort=("due_order", "pk"), nowrap=True),
    Column("review", "Review", nowrap=True),
)
DEFAULT = ("tag", "name", "place", "state", "due", "review")
Notes = Mapping[str, Mapping[int, str]]


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
def listing(request: HttpRequest) -> HttpResponseBase:
    """Show the standards, narrowed and ordered as the address says, or give exactly that as a file."""
    now = timezone.now()
    added = panels.columns()
    columns = (*COLUMNS, *(Column(one.key, one.title) for one in added))
    filters = StandardFilter(request.GET, queryset=listed(now), request=request)
    order = tables.order_from(request, columns, default="due")
    shown = tables.chosen_columns(
        request, columns, table="standards", default=(*DEFAULT, *(one.key for one in added))
    )
    if "export" in request.GET:
        rows = list(filters.qs.order_by(*order.fields(columns)))
        lines = _cells(rows, now, plain=True)
        return export.answer(
            "standards",
            headings=[column.title for column in shown],
            rows=[[cells.get(column.key, "") for column in shown] for cells in lines],
            kind=request.GET["export"],
        )
    page = keyset.page(filters.qs, order=order.fields(columns), token=request.GET.get("page", ""))
    lines = _cells(page.rows, now, plain=False)
    rows = [tables.Row(row.pk, cells, row.tag.text) for row, cells in zip(page.rows, lines, strict=True)]
    context = {
        "filters": filters,
        "links": _links(request),
        "table": tables.Table("Standards", shown, rows, order, offered=columns),
        "page": page,
        "count": tables.capped_count(filters.qs),
        "may_register": request.user.has_perm(MANAGE_STANDARDS),
    }
    return render(request, "standards/register/list.html", context)


def _links(request: HttpRequest) -> list[dict[str, Any]]:
    """Name the questions that people come with, each a link whose address asks it."""
    asked = (
        ("All", ""),
        ("Overdue", "due=overdue"),
        ("Due soon", "due=soon"),
        ("Waits for review", "review=waiting"),
        ("Not in service", "state=out-of-service"),
        ("At outside laboratory", "state=away"),
    )
    here = {
        name: value for name, value in request.GET.items() if name in ("due", "review", "state") and value
    }
    return [
        {"name": name, "query": query, "current": dict([query.split("=")] if query else []) == here}
        for name, query in asked
    ]


def _cells(rows: Iterable[Any], now: datetime, *, plain: bool) -> list[dict[str, Any]]:
    """Make the cells of the rows; ``plain`` for a file."""
    rows = list(rows)
    ids = [row.pk for row in rows]
    notes = {one.key: one.texts(ids, now) for one in panels.columns()}
    return [_line(row, now, notes, plain) for row in rows]


def _line(row: Any, now: datetime, notes: Notes, plain: bool) -> dict[str, Any]:
    overdue = row.due_on_at is not None and row.due_on_at < local_date(now)
    due = figures.on(row.due_on_at) + (", overdue" if overdue else "")
    return {
        "tag": row.tag.text if plain else _link(row),
        "name": row.name,
        "kind": row.get_kind_display(),
        "serial": row.serial,
        "place": row.place.name,
        "state": StandardState.State(row.state_at).label,
        "due": format_html('<b class="late">{}</b>', due) if overdue and not plain else due,
        "review": f"{row.waiting} waiting" if row.waiting else "",
        **{key: texts.get(row.pk, "") for key, texts in notes.items()},
    }


def _link(row: Standard) -> str:
    return format_html('<a href="{}">{}</a>', reverse("standard", args=[row.pk]), row.tag.text)
