"""Calling gauges in, many at once: first what it will do and to how many, then it is done; and the list of call-ins."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.http import require_GET, require_http_methods

from instruments.inventory.forms.gauges import ReasonForm
from instruments.inventory.models import Gauge
from instruments.inventory.queries import gauges
from instruments.inventory.views.frame import form_page, person
from instruments.recall import operations as recall
from instruments.recall.access import PLAN_RECALL
from instruments.recall.forms.handling import CallInForm
from instruments.recall.models import CallIn
from instruments.recall.queries import call_in_plan, open_call_ins, weeks
from instruments.recall.queries.workload import in_week
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date
from labsys.pages import figures, keyset
from labsys.pages.refusals import attempt
from labsys.pages.tables import Column, Row, Table, capped_count

MOST_AT_ONCE = 1000
NAMED = 12
USUAL_NOTICE = timedelta(days=7)

COLUMNS = (
    Column("tag", "Tag", row_head=True, nowrap=True),
    Column("bring_by", "Bring by", nowrap=True),
    Column("state", "State"),
    Column("family", "Family"),
    Column("department", "Department"),
    Column("called", "Called in"),
    Column("note", "Said with it"),
    Column("act", "Change"),
)


@login_required
@permission_required(PLAN_RECALL, raise_exception=True)
@require_http_methods(["GET", "POST"])
def call_in(request: HttpRequest) -> HttpResponse:
    """Say what calling the chosen gauges in would do; do it once that is confirmed."""
    today = local_date(timezone.now())
    chosen = _chosen(request)
    confirmed = "confirm" in request.POST
    form = CallInForm(request.POST if confirmed else None, initial={"bring_by": today + USUAL_NOTICE})
    if confirmed and form.is_valid():
        by, now = person(request), timezone.now()
        done = attempt(form, recall.call_in, gauges=chosen, **form.cleaned_data, by=by, now=now)
        if done is not None:
            return _told(request, done)
    plan = call_in_plan(chosen)
    context = {
        "form": form,
        "plan": plan,
        "named": plan.callable[:NAMED],
        "more": len(plan.callable) - NAMED,
        "skipped": plan.skipped[:NAMED],
        "skipped_more": len(plan.skipped) - NAMED,
    }
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "instruments/recall/call_in.html", context, status=status)


def _chosen(request: HttpRequest) -> list[Gauge]:
    """Give the gauges that were ticked, or all of a week that the address names, up to the most at once."""
    if "week" in request.GET and request.method == "GET":
        today = local_date(timezone.now())
        found = next((one for one in weeks(today) if one.name == request.GET["week"]), None)
        ids = list(in_week(found.index, today).values_list("pk", flat=True)[:MOST_AT_ONCE]) if found else []
    else:
        ids = [int(text) for text in request.POST.getlist("selected") if text.isdigit()][:MOST_AT_ONCE]
    return list(gauges().filter(pk__in=ids))


def _told(request: HttpRequest, done: recall.CallInOutcome) -> HttpResponse:
    count = len(done.called)
    messages.success(
        request, f"{count} gauge{'s are' if count != 1 else ' is'} called in. The custodians are told."
    )
    for one in done.skipped[:NAMED]:
        messages.warning(request, f"Left out: {one.sentence}")
    return redirect("call-ins")


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def call_ins(request: HttpRequest) -> HttpResponse:
    """List the call-ins that wait for their gauge."""
    rows = open_call_ins()
    page = keyset.page(rows, order=("bring_by", "pk"), token=request.GET.get("page", ""))
    table = Table("Called in and not here yet", COLUMNS, _rows(request, page.rows))
    context = {"table": table, "page": page, "count": capped_count(rows)}
    return render(request, "instruments/recall/call_ins.html", context)


def _rows(request: HttpRequest, found: Sequence[CallIn]) -> list[Row]:
    today = local_date(timezone.now())
    may = person(request).may(PLAN_RECALL)
    return [Row(row.pk, _cells(row, may, row.bring_by < today), str(row.gauge)) for row in found]


def _cells(row: CallIn, may: bool, is_past: bool) -> dict[str, object]:
    withdraw = reverse("call-in-withdraw", args=[row.pk])
    gauge = row.gauge
    return {
        "tag": format_html('<a href="{}">{}</a>', reverse("gauge", args=[gauge.pk]), gauge.tag.text),
        "bring_by": figures.on(row.bring_by),
        "state": "not brought" if is_past else "waited for",
        "family": gauge.model.family.name,
        "department": gauge.department.name,
        "called": f"{figures.on(local_date(row.called_at))}, {row.called_by}",
        "note": row.note,
        "act": format_html('<a href="{}">Withdraw {}</a>', withdraw, gauge.tag.text) if may else "",
    }


@login_required
@permission_required(PLAN_RECALL, raise_exception=True)
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw a call-in."""
    row = get_object_or_404(CallIn.objects.select_related("gauge__tag"), pk=pk)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        by, now = person(request), timezone.now()
        if attempt(form, recall.withdraw_call_in, call=row, **form.cleaned_data, by=by, now=now) is not None:
            messages.success(request, f"{row.gauge} is no longer called in.")
            return redirect("call-ins")
    heading = f"Withdraw the call-in of {row.gauge}"
    return form_page(
        request, form, heading=heading, act="Withdraw", back=reverse("call-ins"), gauge=row.gauge
    )
