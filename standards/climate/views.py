"""The page of a thermometer's log: its course over some days, day by day, and what was added when; adding a file."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date, zone
from labsys.pages.refusals import attempt
from standards.climate import chart
from standards.climate.access import LOG_ROOM
from standards.climate.forms import DaysForm, LogFileForm, ends_of
from standards.climate.models import LogUpload
from standards.climate.operations import log_file
from standards.climate.queries import Row, last_logged, rows_between
from standards.register.asking import person_behind
from standards.register.models import Standard

UPLOADS_SHOWN = 50


@dataclass(frozen=True)
class DayLine:
    """A day of the log: how many readings, lowest, mean and highest temperature in °C, humidities in percent."""

    day: date
    count: int
    low: Decimal
    mean: Decimal
    high: Decimal
    damp: tuple[Decimal, Decimal] | None


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def log(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the log of a thermometer over the days asked for."""
    row, now = _thermometer(pk), timezone.now()
    newest, form = last_logged(row), DaysForm(request.GET or None)
    first, last = form.days(local_date(newest.at if newest else now))
    start, end = ends_of(first, last)
    rows = rows_between(row, start, end)
    context = {
        "standard": row,
        "form": form,
        "days": (first, last),
        "newest": newest,
        "chart": chart.draw(rows, start, end, zone()),
        "lines": _by_day(rows),
        "uploads": LogUpload.objects.filter(sensor=row).select_related("by").defer("content")[:UPLOADS_SHOWN],
        "may_add": request.user.has_perm(LOG_ROOM),
    }
    return render(request, "standards/climate/log.html", context)


@login_required
@permission_required(LOG_ROOM, raise_exception=True)
@require_http_methods(["GET", "POST"])
def add(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a logger's file to the log."""
    row = _thermometer(pk)
    form = LogFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        name, content = form.given
        made = attempt(
            form,
            log_file,
            sensor=row,
            name=name,
            content=content,
            by=person_behind(request),
            now=timezone.now(),
        )
        if made is not None:
            (messages.warning if made.fault_count else messages.success)(request, said(made))
            return redirect("standard-log", pk=row.pk)
    context = {"form": form, "standard": row}
    return render(request, "standards/climate/add.html", context, status=422 if form.is_bound else 200)


def said(upload: LogUpload) -> str:
    """Say in a sentence what a piece of the log came to."""
    parts = [f"{upload.new_count} new reading{'' if upload.new_count == 1 else 's'}"]
    if upload.known_count:
        parts.append(f"{upload.known_count} on record before")
    if upload.fault_count:
        parts.append(
            f"{upload.fault_count} line{'' if upload.fault_count == 1 else 's'} not taken: see below"
        )
    return ", ".join(parts) + "."


def _thermometer(pk: int) -> Standard:
    rows = Standard.objects.filter(kind=Standard.Kind.THERMOMETER).select_related("tag", "place")
    return get_object_or_404(rows, pk=pk)


def _by_day(rows: Sequence[Row]) -> list[DayLine]:
    days: dict[date, list[Row]] = defaultdict(list)
    for row in rows:
        days[local_date(row[0])].append(row)
    return [_line(day, found) for day, found in sorted(days.items(), reverse=True)]


def _line(day: date, rows: Sequence[Row]) -> DayLine:
    values = [temperature for _at, temperature, _humidity in rows]
    damp = [humidity for _at, _temperature, humidity in rows if humidity is not None]
    mean = sum(values, Decimal(0)) / len(values)
    return DayLine(day, len(rows), min(values), mean, max(values), (min(damp), max(damp)) if damp else None)
