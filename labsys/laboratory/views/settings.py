"""Bench hours and what the laboratory calls itself: what holds, what held, and setting it anew."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from labsys.journal.access import READ_RECORDS
from labsys.journal.door import Acting
from labsys.laboratory import queries
from labsys.laboratory.access import MANAGE_LABORATORY
from labsys.laboratory.as_of import as_of, beginning
from labsys.laboratory.forms.settings import CapacityForm, DetailsForm
from labsys.laboratory.operations import set_capacity, set_details
from labsys.pages.form_page import FormPage
from labsys.pages.refusals import attempt

MOST = 50


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def capacity(request: HttpRequest) -> HttpResponse:
    """Show the bench hours of a week, now and before."""
    now = timezone.now()
    context = {"hours": queries.hours_per_week(now), "rows": queries.capacities()[:MOST], "now": now}
    return render(request, "labsys/laboratory/capacity.html", context)


@login_required
@permission_required(MANAGE_LABORATORY, raise_exception=True)
@require_http_methods(["GET", "POST"])
def capacity_set(request: HttpRequest) -> HttpResponse:
    """Set the bench hours of a week from a day on."""
    now = timezone.now()
    form = CapacityForm(request.POST or None, initial={"valid_from": queries.local_date(now)})
    if form.is_valid():
        given = {**form.cleaned_data, "valid_from": beginning(form.cleaned_data["valid_from"], now)}
        row = attempt(form, set_capacity, **given, by=cast(Acting, request.user), now=now)
        if row is not None:
            messages.success(request, f"{row}, from {queries.local_date(row.valid_from)} on.")
            return redirect("capacity")
    path = (("Lab", reverse("lab")), ("Bench hours", reverse("capacity")))
    return FormPage(heading="Set the bench hours", act="Set", path=path).show(request, form)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def details(request: HttpRequest) -> HttpResponse:
    """Show what the laboratory calls itself and who signs, now or on the day ``on`` names."""
    shown_of = as_of(request, timezone.now())
    context = {
        "as_of": shown_of,
        "details": queries.details_in_force(shown_of.at),
        "rows": queries.all_details()[:MOST],
    }
    return render(request, "labsys/laboratory/details.html", context)


@login_required
@permission_required(MANAGE_LABORATORY, raise_exception=True)
@require_http_methods(["GET", "POST"])
def details_set(request: HttpRequest) -> HttpResponse:
    """Set what the laboratory calls itself, and whether a second person signs."""
    now = timezone.now()
    held = queries.details_in_force(now)
    names = ("name", "address", "contact", "second_signature")
    initial = {name: getattr(held, name) for name in names} if held else {"second_signature": True}
    form = DetailsForm(request.POST or None, initial=initial)
    if form.is_valid():
        row = attempt(form, set_details, **form.cleaned_data, by=cast(Acting, request.user), now=now)
        if row is not None:
            messages.success(
                request, "It stands on every certificate from now on. Those issued stay as they are."
            )
            return redirect("details")
    path = (("Lab", reverse("lab")), ("The laboratory", reverse("details")))
    return FormPage(heading="The laboratory on documents", act="Set", path=path).show(request, form)
