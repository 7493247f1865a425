"""The end of a stage: adjusting, handing in, voiding a session that came to nothing."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.measuring.access import MEASURE
from instruments.measuring.basis import Basis
from instruments.measuring.forms import AdjustmentForm, ReasonForm
from instruments.measuring.models import Session
from instruments.measuring.operations import begin_as_left, submit, void_session
from instruments.measuring.queries import bench_of
from instruments.measuring.showing.page import shown
from instruments.measuring.showing.steps import Step
from instruments.measuring.showing.summary import ground_shown, mendings, stages
from instruments.measuring.views.frame import form_page, home, person, session_or_404, takes_readings
from instruments.measuring.views.session import number
from labsys.pages.refusals import attempt


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def hand_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what would be handed in and what is still open; hand it in."""
    found = session_or_404(pk)
    if not takes_readings(found):
        return redirect("session", pk)
    form = forms.Form(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        made = attempt(
            form, submit, session=found, by=person(request), now=timezone.now(), last_n=_typed(request)
        )
        if made is not None:
            messages.success(
                request, f"Session {found.pk} is handed in and waits for a second person's signature."
            )
            return redirect("session", pk)
    status = 422 if form.errors else 200
    return render(request, "instruments/measuring/bench/hand_in.html", _summed(found, form), status=status)


def _typed(request: HttpRequest) -> dict[str, int]:
    """Read how much this tablet says it typed in the session; a browser without script says nothing."""
    device, last = request.POST.get("device", "")[:64], number(request.POST.get("last_n", ""))
    return {device: last} if device and last else {}


def _summed(found: Session, form: forms.Form) -> dict[str, Any]:
    page = shown(found, step=Step.HAND_IN.value)
    bench = page.bench
    ground = ground_shown(found)
    return {
        **ground,
        "page": page,
        "session": found,
        "form": form,
        "stages": stages(found),
        "mendings": mendings(bench.open_items, bench.run.pk),
        "set_asides": bench.set_asides,
        "deviations": found.deviations.select_related("accepted_by"),
        "is_reason_to_adjust": ground["basis"].adjustment_allowed and bool(bench.points),
    }


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def adjust(request: HttpRequest, pk: int) -> HttpResponse:
    """Record what was done to the gauge, and begin the stage as left."""
    found = session_or_404(pk)
    form = AdjustmentForm(request.POST or None)
    if form.is_valid():
        data = form.data_given()
        run = attempt(
            form, begin_as_left, session=found, adjustment=data, by=person(request), now=timezone.now()
        )
        if run is not None:
            messages.success(request, "The adjustment is recorded. Everything is measured again, as left.")
            return redirect(home(found))
    basis = Basis.load(found.basis)
    return form_page(
        request,
        form,
        session=found,
        heading=f"Adjust {found.gauge}",
        act="Record it and measure as left",
        basis=basis,
        open_items=bench_of(found).open_items,
        template="instruments/measuring/bench/adjust.html",
    )


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def void(request: HttpRequest, pk: int) -> HttpResponse:
    """Void a session that came to nothing; everything read in it stays."""
    found = session_or_404(pk)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        done = attempt(
            form,
            void_session,
            session=found,
            reason=form.cleaned_data["reason"],
            by=person(request),
            now=timezone.now(),
        )
        if done is not None:
            messages.success(request, f"Session {found.pk} is void. What was read in it stays on record.")
            return redirect("session", pk)
    heading = f"Void session {found.pk} of {found.gauge}"
    return form_page(request, form, session=found, heading=heading, act="Void this session")
