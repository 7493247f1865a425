"""Pages on which a gauge is paired with its setting master, and parted from it."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.forms.gauges import ReasonForm
from instruments.inventory.forms.sets import PairForm
from instruments.inventory.models import Pairing
from instruments.inventory.views.frame import form_page, gauge_or_404, home, person
from instruments.recall import operations as recall
from labsys.pages.refusals import attempt


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def pair_with(request: HttpRequest, pk: int) -> HttpResponse:
    """Say which setting master belongs to a gauge."""
    gauge = gauge_or_404(pk)
    form = PairForm(request.POST or None)
    if form.is_valid():
        master = form.cleaned_data["master"]
        if attempt(form, recall.pair, gauge=gauge, master=master, by=person(request), now=timezone.now()):
            messages.success(request, f"{gauge} and {master} belong together.")
            return redirect(home(gauge))
    return form_page(
        request, form, heading=f"Setting master of {gauge}", act="Pair", back=home(gauge), gauge=gauge
    )


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def part(request: HttpRequest, pk: int) -> HttpResponse:
    """Part a gauge from its setting master."""
    pairing = get_object_or_404(Pairing.objects.select_related("gauge__tag", "master__tag"), pk=pk)
    gauge = gauge_or_404(pairing.gauge_id)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        if attempt(form, recall.part, pairing=pairing, reason=reason, by=person(request), now=timezone.now()):
            messages.success(request, f"{gauge} and {pairing.master} don't belong together any more.")
            return redirect(home(gauge))
    heading = f"Part {gauge} from {pairing.master}"
    return form_page(request, form, heading=heading, act="Part", back=home(gauge), gauge=gauge)
