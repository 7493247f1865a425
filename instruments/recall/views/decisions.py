"""Pages on which something is decided about one gauge."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.inventory.models import Gauge
from instruments.inventory.views.frame import form_page, gauge_or_404, home, person
from instruments.recall import operations as recall
from instruments.recall.access import HOLD_GAUGES, PLAN_RECALL, RELEASE_GAUGES
from instruments.recall.forms.decisions import (
    ExtensionForm,
    HoldForm,
    IntervalForm,
    ReasonForm,
    RestrictionForm,
)
from instruments.recall.models import Hold
from instruments.recall.queries import due_on, interval_in_force
from labsys.pages.refusals import attempt


def _decide(
    request: HttpRequest,
    gauge: Gauge,
    form: forms.Form,
    act: Callable[..., Any],
    said: dict[str, Any],
    *,
    words: tuple[str, str, str],
) -> HttpResponse:
    """Do the act for a valid form and go back to the gauge; ``words`` are heading, button and what was done."""
    heading, button, done = words
    if form.is_valid():
        given = {name: value(form) if callable(value) else value for name, value in said.items()}
        if attempt(form, act, **given, by=person(request), now=timezone.now()) is not None:
            messages.success(request, done)
            return redirect(home(gauge))
    return form_page(request, form, heading=heading, act=button, back=home(gauge), gauge=gauge)


def _field(name: str) -> Callable[[forms.Form], Any]:
    return lambda form: form.cleaned_data[name]


@login_required
@permission_required(HOLD_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def hold(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a gauge on hold."""
    gauge = gauge_or_404(pk)
    form = HoldForm(request.POST or None)
    said = {"gauge": gauge, "kind": lambda f: Hold.Kind(f.cleaned_data["kind"]), "reason": _field("reason")}
    words = (f"Put {gauge} on hold", "Put on hold", f"{gauge} is on hold; nobody may use it.")
    return _decide(request, gauge, form, recall.set_hold, said, words=words)


@login_required
@permission_required(RELEASE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def lift(request: HttpRequest, pk: int) -> HttpResponse:
    """Lift a hold."""
    found = get_object_or_404(Hold.objects.select_related("gauge__tag"), pk=pk)
    gauge = gauge_or_404(found.gauge_id)
    form = ReasonForm(request.POST or None)
    kind = found.get_kind_display()
    words = (f"Lift the hold on {gauge}: {kind}", "Lift the hold", f"The hold on {gauge} is lifted.")
    said = {"hold": found, "reason": _field("reason")}
    return _decide(request, gauge, form, recall.lift_hold, said, words=words)


@login_required
@permission_required(RELEASE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def restrict(request: HttpRequest, pk: int) -> HttpResponse:
    """Restrict the use of a gauge."""
    gauge = gauge_or_404(pk)
    form = RestrictionForm(request.POST or None, functions=gauge.functions)
    said = {"gauge": gauge, "data": lambda f: f.data_given(), "reason": _field("reason")}
    words = (f"Restrict the use of {gauge}", "Restrict", f"{gauge} is restricted from now on.")
    return _decide(request, gauge, form, recall.restrict, said, words=words)


@login_required
@permission_required(RELEASE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def lift_restriction(request: HttpRequest, pk: int) -> HttpResponse:
    """Lift the restriction of a gauge."""
    gauge = gauge_or_404(pk)
    form = ReasonForm(request.POST or None)
    words = (f"Lift the restriction of {gauge}", "Lift it", f"{gauge} is no longer restricted.")
    said = {"gauge": gauge, "reason": _field("reason")}
    return _decide(request, gauge, form, recall.lift_restriction, said, words=words)


@login_required
@permission_required(PLAN_RECALL, raise_exception=True)
@require_http_methods(["GET", "POST"])
def interval(request: HttpRequest, pk: int) -> HttpResponse:
    """Assign a recall interval."""
    gauge = gauge_or_404(pk)
    form = IntervalForm(request.POST or None, initial={"months": interval_in_force(gauge, timezone.now())})
    said = {"gauge": gauge, "months": _field("months"), "reason": _field("reason")}
    words = (
        f"Interval of {gauge}",
        "Assign",
        f"{gauge} has its new interval. A longer one begins next time.",
    )
    return _decide(request, gauge, form, recall.assign_interval, said, words=words)


@login_required
@permission_required(PLAN_RECALL, raise_exception=True)
@require_http_methods(["GET", "POST"])
def extend(request: HttpRequest, pk: int) -> HttpResponse:
    """Put off a due date."""
    gauge = gauge_or_404(pk)
    form = ExtensionForm(request.POST or None, initial={"to_on": due_on(gauge, timezone.now())})
    said = {"gauge": gauge, "to_on": _field("to_on"), "reason": _field("reason")}
    words = (f"Put off the due date of {gauge}", "Put off", f"{gauge} is due later. Print its label anew.")
    return _decide(request, gauge, form, recall.extend, said, words=words)
