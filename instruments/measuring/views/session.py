"""The page of a session at the bench: one step, one point at a time."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_GET

from instruments.measuring.access import MEASURE
from instruments.measuring.composing import fresh_id
from instruments.measuring.entry_forms import LaidForm
from instruments.measuring.forms import SkipForm
from instruments.measuring.models import Strike
from instruments.measuring.showing.page import MOST_AHEAD, MOST_TAKEN, Ahead, Page, ahead, at, room_of, shown
from instruments.measuring.showing.rooms import waits
from instruments.measuring.showing.sittings import seat_shown
from instruments.measuring.showing.steps import READ_STEPS, Step
from instruments.measuring.views.frame import person, session_or_404, takes_readings
from labsys.laboratory.queries import zone
from labsys.metrology.units import Unit
from labsys.pages.corridor import VERDICTS

KEYS = ("7", "8", "9", "back", "4", "5", "6", "sign", "1", "2", "3", "unit", "0", ".")
"""The on-screen keys in their order; Store comes last and is two keys wide."""
MARKS = {"unit": "°", ".": "′"}
"""What stands in the place of two of them where degrees and minutes are typed."""


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_GET
def session(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the step or point that the address names, otherwise what comes next."""
    found = session_or_404(pk)
    if not takes_readings(found):
        return redirect("session", pk)
    asked, point = request.GET.get("step", ""), number(request.GET.get("point", ""))
    page = shown(found, step=asked, point=point)
    if not asked and point is None:
        page = waited_for(page, timezone.now())
    if page.step is Step.HAND_IN:
        return redirect("bench-hand-in", pk)
    context = context_of(page) | seated(request, page)
    return render(request, f"instruments/measuring/bench/{_template(page)}.html", context)


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_GET
def going_on(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the parts of the page for everything still to be read, so that the tablet goes on without the network.

    A tablet keeps them for days, so they are made without looking at who asks: no name, no token stands in them.
    """
    found = session_or_404(pk)
    most = MOST_TAKEN if "all" in request.GET else MOST_AHEAD
    known = ahead(found, most) if takes_readings(found) else Ahead((), is_all=True)
    context = {
        "session": found,
        "contexts": [context_of(page) | {"oob": True} for page in known.pages],
        "is_all": known.is_all,
        "before": [context_of(page) | {"oob": True, "is_ahead": True} for page in known.before],
    }
    return HttpResponse(render_to_string("instruments/measuring/bench/ahead.html", context))


def context_of(page: Page) -> dict[str, Any]:
    """Give what the templates of a step are made of."""
    context: dict[str, Any] = {
        "page": page,
        "target": page.target,
        "session": page.session,
        "client_id": fresh_id(),
        "keys": keys_for(page),
        "reasons": Strike.Reason.choices,
        "skip": SkipForm(auto_id="skip_%s"),
        "verdicts": VERDICTS,
    }
    if page.step is Step.ROOM:
        now = timezone.now()
        since = LaidForm(initial={"since": now.astimezone(zone()).replace(tzinfo=None)})
        context |= {**room_of(page, now), "laid_form": since}
    return context


def keys_for(page: Page) -> tuple[str, ...]:
    """Give the keys that what is read here is typed with: degrees and minutes have no point, but marks."""
    shown = page.session.gauge.model.unit
    return tuple(MARKS.get(key, key) for key in KEYS) if shown == Unit.ARCMIN else KEYS


def seated(request: HttpRequest, page: Page) -> dict[str, Any]:
    """Give what the templates show of the sitting; nothing for a session that was opened by itself."""
    return {"sitting": seat_shown(page, person(request))} if page.session.sitting_id else {}


def waited_for(page: Page, now: datetime) -> Page:
    """Give the step of the room instead of one at which something is read, while the gauge has to lie there."""
    return (
        at(page.bench, step=Step.ROOM.value) if page.step in READ_STEPS and waits(page.bench, now) else page
    )


def number(text: str) -> int | None:
    """Read an id from an address; None where there is none."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else None


def _template(page: Page) -> str:
    if page.step is Step.LOOKS:
        return "looks"
    if page.step is Step.ROOM:
        return "room"
    return "reading" if page.target is not None else "no_points"
