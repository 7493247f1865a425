"""The list of sessions: filtered, sorted and paged by its address, and given as a file of exactly what is shown."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.db.models import QuerySet
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.html import format_html
from django.views.decorators.http import require_GET

from instruments.measuring.filters import SessionFilter
from instruments.measuring.models import Session
from instruments.measuring.queries import sessions
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import zone
from labsys.pages import export, figures, keyset
from labsys.pages.tables import Column, Row, Table, capped_count, order_from

AT_ONCE = 2_000
COLUMNS = (
    Column("session", "Session", sort=("pk",), row_head=True, number=True),
    Column("gauge", "Gauge", sort=("gauge__tag__text", "pk"), nowrap=True),
    Column("model", "Model"),
    Column("department", "Department", sort=("gauge__department__name", "pk")),
    Column("state", "State", sort=("state", "pk")),
    Column("opened", "Opened", sort=("opened_at", "pk"), nowrap=True),
    Column("by", "By", sort=("opened_by__name", "pk")),
    Column("procedure", "Procedure"),
)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def listing(request: HttpRequest) -> HttpResponseBase:
    """List the sessions the address asks for; with ``as`` give them as a file."""
    filters = SessionFilter(request.GET, queryset=_found())
    found = filters.qs if filters.is_valid() else _found().none()
    order = order_from(request, COLUMNS, default="-opened")
    fields = order.fields(COLUMNS)
    if request.GET.get("as"):
        headings = [column.title for column in COLUMNS]
        return export.answer(
            "sessions", headings=headings, rows=_lines(found.order_by(*fields)), kind=request.GET["as"]
        )
    page = keyset.page(found, order=fields, token=request.GET.get("page", ""))
    context = {
        "filters": filters,
        "table": Table("Sessions", COLUMNS, [_row(one) for one in page.rows], order),
        "page": page,
        "count": capped_count(found),
    }
    return render(request, "instruments/measuring/sessions.html", context)


def _found() -> QuerySet[Session]:
    return sessions().select_related("revision__procedure")


def cells(session: Session) -> dict[str, Any]:
    """Give what each column says of a session."""
    return {
        "session": session.pk,
        "gauge": session.gauge.tag.text,
        "model": str(session.gauge.model),
        "department": session.gauge.department.name,
        "state": session.get_state_display(),
        "opened": figures.when(session.opened_at, zone=zone()),
        "by": session.opened_by.name,
        "procedure": str(session.revision),
    }


def _row(session: Session) -> Row:
    said = cells(session)
    links = {
        "session": reverse("session", args=[session.pk]),
        "gauge": reverse("gauge", args=[session.gauge_id]),
    }
    shown = {key: format_html('<a href="{}">{}</a>', address, said[key]) for key, address in links.items()}
    return Row(session.pk, said | shown, f"session {session.pk}")


def _lines(found: QuerySet[Session]) -> Iterator[list[Any]]:
    for session in found.iterator(chunk_size=AT_ONCE):
        said = cells(session)
        yield [said[column.key] for column in COLUMNS]
