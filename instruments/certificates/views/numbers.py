"""The page on which a series of numbers is confirmed after a restore."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from instruments.certificates.access import CONFIRM_NUMBERS
from instruments.certificates.forms import ConfirmForm
from instruments.certificates.models import NumberSeries
from instruments.certificates.operations import confirm_series
from instruments.certificates.views.frame import form_page, person
from labsys.pages.refusals import attempt


@login_required
@permission_required(CONFIRM_NUMBERS, raise_exception=True)
@require_GET
def numbers(request: HttpRequest) -> HttpResponse:
    """Show the series: the last number on record, and whether it was confirmed."""
    rows = NumberSeries.objects.order_by("code")
    return render(request, "instruments/certificates/numbers.html", {"rows": rows})


@login_required
@permission_required(CONFIRM_NUMBERS, raise_exception=True)
@require_http_methods(["GET", "POST"])
def confirm(request: HttpRequest, pk: int) -> HttpResponse:
    """Confirm the highest number ever issued."""
    series = get_object_or_404(NumberSeries, pk=pk)
    form = ConfirmForm(request.POST or None)
    if form.is_valid():
        done = attempt(
            form, confirm_series, series=series, **form.cleaned_data, by=person(request), now=timezone.now()
        )
        if done is not None:
            messages.success(request, f"Confirmed. The next certificate gets the number after {done.last}.")
            return redirect("certificate-numbers")
    return form_page(request, "instruments/certificates/confirm.html", form, series=series)
