"""Pages on which a gauge is registered and changed, its photo kept, its way recorded."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from instruments.inventory.access import MANAGE_GAUGES, RECORD_CUSTODY
from instruments.inventory.forms.gauges import ChangeForm, CustodyForm, PhotoForm, ReasonForm, RegisterForm
from instruments.inventory.operations import (
    change_gauge,
    record_custody,
    register_gauge,
    remove_photo,
    set_photo,
)
from instruments.inventory.queries import description_at
from instruments.inventory.views.frame import as_of, form_page, gauge_or_404, home, person
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import zone
from labsys.pages.refusals import attempt


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def register(request: HttpRequest) -> HttpResponse:
    """Register a gauge."""
    form = RegisterForm(request.POST or None)
    if form.is_valid():
        made = attempt(form, register_gauge, data=form.data_given(), by=person(request), now=timezone.now())
        if made is not None:
            messages.success(
                request, f"{made} is registered. It is new and not accepted until it is calibrated."
            )
            return redirect(home(made))
    back = reverse("gauges")
    return form_page(request, form, heading="Register a gauge", act="Register", back=back)


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is written about a gauge."""
    gauge = gauge_or_404(pk)
    form = ChangeForm.of(gauge, request.POST or None)
    if form.is_valid():
        data, reason = form.data_given(tag=gauge.tag.text), form.cleaned_data["reason"]
        changed = attempt(
            form, change_gauge, gauge=gauge, data=data, reason=reason, by=person(request), now=timezone.now()
        )
        if changed is not None:
            messages.success(request, f"{gauge} is changed; what stood before is in the journal.")
            return redirect(home(gauge))
    return form_page(request, form, heading=f"Change {gauge}", act="Change", back=home(gauge), gauge=gauge)


@login_required
@permission_required(RECORD_CUSTODY, raise_exception=True)
@require_http_methods(["GET", "POST"])
def custody(request: HttpRequest, pk: int) -> HttpResponse:
    """Record a step of a gauge's way."""
    gauge, now = gauge_or_404(pk), timezone.now()
    form = CustodyForm(request.POST or None, initial={"at": now.astimezone(zone()).replace(tzinfo=None)})
    if form.is_valid():
        step = attempt(form, record_custody, gauge=gauge, **form.cleaned_data, by=person(request), now=now)
        if step is not None:
            messages.success(request, f"{gauge}: {step.get_kind_display()} is recorded.")
            return redirect(home(gauge))
    return form_page(
        request, form, heading=f"Record where {gauge} is", act="Record", back=home(gauge), gauge=gauge
    )


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def photo(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Give the photo of a gauge, of a past day where ``on`` names one."""
    gauge = gauge_or_404(pk)
    shown = description_at(gauge, as_of(request).at)
    if shown is None or not shown["photo"]:
        raise Http404("no photo")
    storage = gauge.photo.storage
    if not storage.exists(shown["photo"]):
        raise Http404("the file of the photo is missing")
    answer = FileResponse(storage.open(shown["photo"]), content_type="image/jpeg")
    answer["Cache-Control"] = "private, max-age=300"
    return answer


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def photo_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Put another photo on a gauge's page."""
    gauge = gauge_or_404(pk)
    form = PhotoForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        sent = form.cleaned_data["photo"]
        if attempt(form, set_photo, gauge=gauge, photo=sent, by=person(request), now=timezone.now()):
            messages.success(request, f"{gauge} has its photo.")
            return redirect(home(gauge))
    more = {"gauge": gauge, "remove": reverse("gauge-photo-remove", args=[pk]) if gauge.photo else ""}
    return form_page(request, form, heading=f"Photo of {gauge}", act="Keep", back=home(gauge), **more)


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def photo_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the photo off a gauge's page."""
    gauge = gauge_or_404(pk)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        if attempt(form, remove_photo, gauge=gauge, reason=reason, by=person(request), now=timezone.now()):
            messages.success(request, f"The photo is off {gauge}'s page.")
            return redirect(home(gauge))
    heading = f"Remove the photo of {gauge}"
    return form_page(request, form, heading=heading, act="Remove", back=home(gauge), gauge=gauge)
