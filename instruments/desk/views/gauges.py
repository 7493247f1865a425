"""The list of gauges: filtered, sorted and paged by its address, and given as a file of exactly what is shown."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import islice
from typing import Any, ClassVar

from django.contrib.auth.decorators import login_required, permission_required
from django.db.models import QuerySet
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from instruments.desk.filters import ListFilter
from instruments.desk.queries import ordered, shown
from instruments.desk.views.columns import COLUMNS, DEFAULT, looks, says
from instruments.inventory.models import Gauge
from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date
from labsys.pages import export, keyset
from labsys.pages.tables import Column, Row, Table, capped_count, chosen_columns, order_from

COUNT_CAP = 10_000
MOST_IN_WORKBOOK = 50_000
AT_ONCE = 500


class WorkbookTooLong(LabError, ValueError):
    """A workbook is made whole in memory; a text file streams."""

    code: ClassVar[str] = "workbook-too-long"
    sentence: ClassVar[str] = (
        "The list has more than {most} gauges, which is too long for a workbook. Narrow it, or take it as CSV."
    )


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def gauges(request: HttpRequest) -> HttpResponseBase:
    """List the gauges the address asks for; with ``as`` give them as a file."""
    now = timezone.now()
    filters = ListFilter(request.GET, queryset=Gauge.objects.all())
    found = filters.qs if filters.is_valid() else Gauge.objects.none()
    order = order_from(request, COLUMNS, default="tag")
    names = order.fields(COLUMNS)
    columns = chosen_columns(request, COLUMNS, table="gauges", default=DEFAULT)
    if request.GET.get("as"):
        return _file(request.GET["as"], columns, ordered(found, names), now)
    page = keyset.page(ordered(found, names), order=names, token=request.GET.get("page", ""))
    rows = [_row(columns, gauge, local_date(now)) for gauge in shown(page.rows, now)]
    context = {
        "filters": filters,
        "table": Table("Gauges", columns, rows, order, offered=COLUMNS),
        "page": page,
        "count": capped_count(found, cap=COUNT_CAP),
        "kept": [(name, value) for name, value in request.GET.items() if name not in ("columns", "page")],
    }
    return render(request, "instruments/desk/gauges.html", context)


def _row(columns: Sequence[Column], gauge: Gauge, today: date) -> Row:
    return Row(gauge.pk, {column.key: looks(column, gauge, today) for column in columns}, gauge.tag.text)


def _file(kind: str, columns: Sequence[Column], found: QuerySet[Gauge], now: datetime) -> HttpResponseBase:
    if kind == "xlsx" and capped_count(found, cap=MOST_IN_WORKBOOK).is_capped:
        raise WorkbookTooLong(most=f"{MOST_IN_WORKBOOK:,}")
    headings = [column.title for column in columns]
    return export.answer("gauges", headings=headings, rows=_lines(columns, found, now), kind=kind)


def _lines(columns: Sequence[Column], found: QuerySet[Gauge], now: datetime) -> Iterator[list[Any]]:
    """Give the cells line by line; the gauges are read some at once, so that a long list streams."""
    keys = found.iterator(chunk_size=AT_ONCE)
    while some := list(islice(keys, AT_ONCE)):
        for gauge in shown(some, now):
            yield [says(column, gauge, local_date(now)) for column in columns]
