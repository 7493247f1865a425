"""The manager's page: the coming weeks against the bench, what is late, what waits; and the list behind each week."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.http import require_GET

from instruments.recall.access import PLAN_RECALL
from instruments.recall.models import GaugeStanding
from instruments.recall.queries import late as late_gauges
from instruments.recall.queries import waiting, weeks
from instruments.recall.queries.sentence import sentence
from instruments.recall.queries.whereabouts import Whereabouts, whereabouts
from instruments.recall.queries.workload import MOST_LATE, Week, by_department, in_week
from labsys.accounts.queries import lapsing as authorisations_lapsing
from labsys.jobs.access import MANAGE_MESSAGES
from labsys.jobs.queries import undecided
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date
from labsys.pages import figures, keyset
from labsys.pages import weeks as pictures
from labsys.pages.tables import Column, Row, Table, capped_count
from standards.register.queries import lapsing as standards_lapsing

SHOWN = 12
HORIZON = timedelta(weeks=12)

COLUMNS = (
    Column("tag", "Tag", row_head=True, nowrap=True),
    Column("due", "Due", nowrap=True),
    Column("days", "Days", number=True),
    Column("where", "Where it is, and why"),
    Column("family", "Family"),
    Column("place", "Belongs to"),
    Column("hours", "Hours", number=True),
)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def planning(request: HttpRequest) -> HttpResponse:
    """Show the coming weeks, and what is late and waits."""
    now = timezone.now()
    today = local_date(now)
    loads, rows = weeks(today), late_gauges(today)
    found = list(rows[:SHOWN])
    count = capped_count(rows, cap=10_000)
    waits = waiting(now)
    context = {
        "sentence": sentence(loads, count),
        "rule": picture(loads),
        "weeks": loads,
        "late": [(row, (row.valid_until - today).days) for row in found if row.valid_until],
        "late_count": count,
        "where": whereabouts(found, today),
        "departments": by_department(today),
        "waiting": waits[:SHOWN],
        "waiting_more": len(waits) - SHOWN,
        "authorisations": authorisations_lapsing(today, today + HORIZON),
        "standards": standards_lapsing(today, today + HORIZON),
        "undecided": undecided().count() if request.user.has_perm(MANAGE_MESSAGES) else 0,
    }
    return render(request, "instruments/recall/planning.html", context)


def picture(loads: Sequence[Week]) -> pictures.Rule:
    """Lay the weeks on the rule."""
    title = "Bench hours per week, from what is late on the left to twelve weeks ahead"
    return pictures.draw([_drawn(week) for week in loads], title=title)


def _drawn(week: Week) -> pictures.WeekLoad:
    late_label = f"−{-week.index}" + ("…" if week.index == -MOST_LATE else "")
    return pictures.WeekLoad(
        index=week.index,
        label=late_label if week.index < 0 else f"W{week.number}",
        due_hours=float(week.due.hours),
        called_hours=float(week.called.hours),
        capacity_hours=float(week.capacity),
        sentence=_say(week),
        url=reverse("planning-week", args=[week.name]),
    )


def _say(week: Week) -> str:
    hours = pictures.hours(float(week.needs))
    if week.index < 0:
        more = " or more" if week.index == -MOST_LATE else ""
        return f"{-week.index} weeks{more} late: {week.due.count} gauges, {hours}"
    capacity = pictures.hours(float(week.capacity))
    return (
        f"Week {week.number}: {week.due.count} due, {week.called.count} called in or here, "
        f"{hours} of {capacity}"
    )


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def week(request: HttpRequest, name: str) -> HttpResponse:
    """List the gauges that fall due in one week of the rule."""
    today = local_date(timezone.now())
    found = next((one for one in weeks(today) if one.name == name), None)
    if found is None:
        raise Http404("no such week on the rule")
    return _list(request, in_week(found.index, today), _title(found), found, today)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def late(request: HttpRequest) -> HttpResponse:
    """List everything that is late."""
    today = local_date(timezone.now())
    return _list(request, late_gauges(today), "Late", None, today)


def _title(found: Week) -> str:
    if found.index < 0:
        more = " or more" if found.index == -MOST_LATE else ""
        return f"{-found.index} weeks{more} late"
    last = found.monday + timedelta(days=6)
    return f"Week {found.number}: {figures.on(found.monday)} to {figures.on(last)}"


def _list(
    request: HttpRequest, rows: QuerySet[GaugeStanding], title: str, found: Week | None, today: date
) -> HttpResponse:
    rows = rows.select_related("gauge__tag", "gauge__model__family", "gauge__department", "gauge__place")
    page = keyset.page(rows, order=("valid_until", "pk"), token=request.GET.get("page", ""))
    where = whereabouts(page.rows, today)
    lines = [Row(row.pk, _cells(row, where[row.pk], today), str(row.gauge)) for row in page.rows]
    context: dict[str, Any] = {
        "heading": title,
        "week": found,
        "table": Table(title, COLUMNS, lines, bulk=request.user.has_perm(PLAN_RECALL)),
        "page": page,
        "count": capped_count(rows, cap=10_000),
    }
    return render(request, "instruments/recall/week.html", context)


def _cells(row: GaugeStanding, where: Whereabouts, today: date) -> dict[str, Any]:
    gauge, due = row.gauge, row.valid_until
    return {
        "tag": format_html('<a href="{}">{}</a>', reverse("gauge", args=[gauge.pk]), gauge.tag.text),
        "due": figures.on(due),
        "days": days(due, today),
        "where": where.sentence,
        "family": gauge.model.family.name,
        "place": f"{gauge.department.name}, {gauge.place.name}",
        "hours": f"{gauge.model.family.bench_hours.normalize():f}",
    }


def days(due: date | None, today: date) -> str:
    """Write how far a due day is, with its sign: −3 is three days late."""
    if due is None:
        return ""
    count = (due - today).days
    return f"+{count}" if count > 0 else str(count).replace("-", figures.MINUS)
