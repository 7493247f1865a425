"""The technician's first page: what is under way, what waits to be measured, and the field that finds a gauge."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from instruments.inventory.models import Gauge
from instruments.inventory.queries import gauges, received_at
from instruments.measuring.access import MEASURE
from instruments.measuring.forms import FindForm, OpenForm
from instruments.measuring.models import Session, Submission
from instruments.measuring.operations import open_session
from instruments.measuring.queries import (
    InHand,
    Progress,
    at_the_bench,
    in_hand,
    progress_of,
    soak_times,
    under_way,
    waiting_for_review,
)
from instruments.measuring.queries.sittings import sittings_under_way
from instruments.measuring.showing.labels import looked_for
from instruments.measuring.views.frame import home, person
from labsys.pages.refusals import attempt

FEW = 12
"""Gauges ready to be measured that are looked through without choosing a family."""


@dataclass(frozen=True)
class Line:
    """A session under way as the page shows it."""

    session: Session
    progress: Progress
    is_mine: bool
    said: str


@dataclass(frozen=True)
class Gauging:
    """A gauge in hand with the minutes it still has to soak."""

    item: InHand
    minutes_left: int


@dataclass(frozen=True)
class Choice:
    """A family that the list of what is ready can be narrowed to, and how many gauges of it are; no code: all."""

    code: str
    name: str
    count: int
    is_chosen: bool


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_GET
def bench(request: HttpRequest) -> HttpResponse:
    """Show what is on the bench, next first."""
    now = timezone.now()
    found = in_hand(now)
    free = [item for item in found if not item.is_waiting and not item.is_released]
    gauging = [Gauging(item, item.minutes_left(now)) for item in free]
    ready = [one for one in gauging if not one.minutes_left]
    choices = _choices(ready, request.GET.get("family", ""))
    chosen = next((one.code for one in choices if one.is_chosen), "")
    context = {
        "form": FindForm(auto_id="find_%s"),
        "under_way": _under_way(request),
        "sittings": sittings_under_way(),
        "choices": choices,
        "ready": [one for one in ready if chosen in ("", one.item.gauge.model.family.code)],
        "soaking": sorted((one for one in gauging if one.minutes_left), key=lambda one: one.minutes_left),
        "waiting": [item for item in found if item.is_waiting],
        "released": [item for item in found if item.is_released],
        "submitted": waiting_for_review(),
    }
    return render(request, "instruments/measuring/bench/first.html", context)


def _choices(ready: Sequence[Gauging], asked: str) -> list[Choice]:
    """Offer the families of what is ready, with how many, where the list is too long to look through at once."""
    found = Counter(one.item.gauge.model.family for one in ready)
    if len(ready) <= FEW or len(found) < 2:
        return []
    families = sorted(found.items(), key=lambda pair: pair[0].name)
    codes = {family.code for family in found}
    every = Choice("", "All", len(ready), is_chosen=asked not in codes)
    return [every, *(Choice(one.code, one.name, count, one.code == asked) for one, count in families)]


def _under_way(request: HttpRequest) -> list[Line]:
    rows = list(at_the_bench())
    progress, reasons = progress_of(rows), _return_reasons(rows)
    lines = [
        Line(row, progress[row.pk], row.opened_by_id == person(request).pk, reasons.get(row.pk, ""))
        for row in rows
        if row.pk in progress
    ]
    return sorted(lines, key=lambda line: not line.is_mine)


def _return_reasons(rows: Sequence[Session]) -> dict[int, str]:
    """Give why sessions were given back, by session."""
    returned = [row for row in rows if row.state == Session.State.RETURNED]
    newest = Submission.objects.filter(session__in=returned).select_related("review").order_by("number")
    return {row.session_id: row.review.reason for row in newest if hasattr(row, "review")}


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_GET
def find(request: HttpRequest) -> HttpResponse:
    """Go to the gauge that a typed tag or a scanned label means: to its session, or to where one is opened."""
    text = request.GET.get("label", "").strip()
    tag = looked_for(text) if text else None
    gauge = getattr(tag, "gauge", None)
    if gauge is not None:
        session = under_way(gauge)
        return redirect(home(session) if session else reverse("bench-gauge", args=[gauge.pk]))
    if not text:
        said = "Type a tag, or scan a label."
    elif tag is not None:
        said = f"{tag} is a standard. Standards are chosen with the points of a session."
    else:
        said = (
            f"No gauge carries the tag or label “{text[:60]}”. Look at the tag, or register the gauge first."
        )
    messages.error(request, said)
    return redirect("bench")


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def gauge(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a gauge before its session, and open one."""
    found, now = get_object_or_404(gauges(), pk=pk), timezone.now()
    form = OpenForm(request.POST or None)
    if form.is_valid():
        made = attempt(
            form, open_session, gauge=found, place=form.cleaned_data["place"], by=person(request), now=now
        )
        if made is not None:
            return redirect(home(made))
    context = {
        "form": form,
        "gauge": found,
        "session": under_way(found),
        "came_at": received_at(found, now),
        "minutes_left": _minutes_left(found, now),
    }
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "instruments/measuring/bench/gauge.html", context, status=status)


def _minutes_left(found: Gauge, now: datetime) -> int:
    came_at, soak = received_at(found, now), soak_times([found.model.family], now).get(found.model.family_id)
    ready_at = None if came_at is None or soak is None else came_at + soak
    return InHand(found, came_at or now, "", "", ready_at).minutes_left(now)
