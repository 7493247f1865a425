"""Pages on which gauges are received and given back."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.inventory.forms.files import pictures_of
from instruments.inventory.views.frame import form_page, gauge_or_404, home, person
from instruments.recall import operations as recall
from instruments.recall.access import RECEIVE_GAUGES
from instruments.recall.forms.handling import ReceiveForm, ReleaseForm
from labsys.laboratory.queries import zone
from labsys.pages.refusals import attempt


@login_required
@permission_required(RECEIVE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def receive(request: HttpRequest, pk: int) -> HttpResponse:
    """Receive a gauge in the laboratory."""
    gauge, now = gauge_or_404(pk), timezone.now()
    form = ReceiveForm(
        request.POST or None,
        request.FILES or None,
        initial={"at": now.astimezone(zone()).replace(tzinfo=None)},
    )
    if form.is_valid():
        by, pictures = person(request), pictures_of(form, "photos")
        said = {**form.cleaned_data, "photos": pictures}
        if (
            pictures is not None
            and attempt(form, recall.receive, gauge=gauge, **said, by=by, now=now) is not None
        ):
            messages.success(request, f"{gauge} is in the laboratory.")
            return redirect(home(gauge))
    return form_page(request, form, heading=f"Receive {gauge}", act="Receive", back=home(gauge), gauge=gauge)


@login_required
@permission_required(RECEIVE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def release(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a gauge back."""
    gauge = gauge_or_404(pk)
    form = ReleaseForm(request.POST or None)
    if form.is_valid():
        by, now = person(request), timezone.now()
        if attempt(form, recall.release, gauge=gauge, **form.cleaned_data, by=by, now=now) is not None:
            messages.success(request, f"{gauge} is given back.")
            return redirect(home(gauge))
    heading = f"Give {gauge} back"
    return form_page(request, form, heading=heading, act="Give back", back=home(gauge), gauge=gauge)
