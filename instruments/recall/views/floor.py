"""The page behind a label's code, for everybody; and what somebody signed in can record from there."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from instruments.inventory.models import Gauge
from instruments.inventory.views.frame import person
from instruments.recall import operations as recall
from instruments.recall.access import RECEIVE_GAUGES, USE_GAUGES
from instruments.recall.forms.handling import DamageForm, HandOverForm, UseCheckForm
from instruments.recall.queries.floor import FloorAnswer, answer, in_care_of
from labsys.laboratory.queries import local_date, zone
from labsys.pages import figures
from labsys.pages.refusals import attempt
from labsys.pages.standing import mark


@require_safe
@never_cache
def floor(request: HttpRequest, code: str) -> HttpResponse:
    """Answer a scan: may I use this, for what, until when? Reads no session and writes nothing."""
    now = timezone.now()
    found = answer(code, local_date(now))
    context = {
        "found": found,
        "mark": mark(found.standing.mark if found else "do_not_use"),
        "style": static("instruments/floor.css"),
        "acts_url": reverse("floor-acts", args=[code]),
        "shown": figures.when(now, zone=zone()),
    }
    # Rendered without the request: who is signed in makes no difference and is never asked.
    page = render_to_string("instruments/recall/floor.html", context)
    response = HttpResponse(page, status=200 if found else 404)
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex"
    return response


def _gauge(code: str) -> tuple[FloorAnswer, Gauge]:
    found = answer(code, local_date(timezone.now()))
    if found is None or found.gauge is None:
        raise Http404("no gauge has this code")
    return found, found.gauge


@login_required
@permission_required(USE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def acts(request: HttpRequest, code: str) -> HttpResponse:
    """Record today's check, damage, or that the gauge went to somebody else."""
    found, gauge = _gauge(code)
    sent = request.POST.get("act", "")
    shown = _forms(request, sent, gauge)
    form = shown.get(sent)
    if form is not None and form.is_valid():
        done = _do(request, sent, form, gauge)
        if done:
            messages.success(request, done)
            return redirect("floor-acts", code)
    context = {"found": found, "code": code, "forms": shown, "gauge": gauge}
    status = 422 if form is not None and form.errors else 200
    return render(request, "instruments/recall/floor_acts.html", context, status=status)


def _forms(request: HttpRequest, sent: str, gauge: Gauge) -> dict[str, forms.Form]:
    """Give the forms this person may use here: damage everybody, the rest who has the gauge in care."""
    by = person(request)
    kinds: dict[str, type[forms.Form]] = {"damage": DamageForm}
    if in_care_of(gauge, by) or by.may(RECEIVE_GAUGES):
        check: dict[str, type[forms.Form]] = {"check": UseCheckForm}
        kinds = {**check, **kinds}
    if gauge.custodian_id == by.pk or by.may(RECEIVE_GAUGES):
        kinds["hand-over"] = HandOverForm
    return {name: kind(request.POST if name == sent else None, prefix=name) for name, kind in kinds.items()}


def _do(request: HttpRequest, sent: str, form: forms.Form, gauge: Gauge) -> str:
    acts_and_words: dict[str, tuple[Callable[..., Any], str]] = {
        "check": (recall.record_use_check, f"The check of {gauge} is recorded."),
        "damage": (recall.report_damage, f"{gauge} is on hold. Set it aside and bring it to the laboratory."),
        "hand-over": (recall.hand_over, f"{gauge} is handed over."),
    }
    act, words = acts_and_words[sent]
    given = form.data_given() if isinstance(form, UseCheckForm) else form.cleaned_data
    done = attempt(form, act, gauge=gauge, **given, by=person(request), now=timezone.now())
    return words if done is not None else ""
