"""What the pages of the inventory share: who asks, the gauge an address names, and the page with one form."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from instruments.inventory.models import Gauge
from instruments.inventory.queries import gauges
from labsys.accounts.models import Person
from labsys.laboratory.as_of import AsOf
from labsys.laboratory.as_of import as_of as read_day


def as_of(request: HttpRequest) -> AsOf:
    """Read the day the address names; one that is no day, or still to come, is said and not taken."""
    return read_day(request, timezone.now())


def person(request: HttpRequest) -> Person:
    """Give the person behind a request that passed the sign-in."""
    return cast(Person, request.user)


def gauge_or_404(pk: int) -> Gauge:
    """Find the gauge with what a page shows of it."""
    return get_object_or_404(gauges(), pk=pk)


def home(gauge: Gauge) -> str:
    """Give the address of the gauge's page."""
    return reverse("gauge", args=[gauge.pk])


def form_page(
    request: HttpRequest, form: forms.Form, *, heading: str, act: str, back: str, **more: Any
) -> HttpResponse:
    """Show a page that holds one form: 422 where it was sent and is to be mended."""
    context = {"form": form, "heading": heading, "act": act, "back": back, **more}
    template = more.get("template", "instruments/inventory/form.html")
    return render(request, template, context, status=422 if form.is_bound and form.errors else 200)
