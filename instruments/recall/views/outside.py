"""Pages for certificates of other laboratories: received, looked at, accepted or rejected."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from instruments.inventory.views.frame import form_page, gauge_or_404, home, person
from instruments.recall import operations as recall
from instruments.recall.access import ACCEPT_OUTSIDE, RECEIVE_OUTSIDE
from instruments.recall.forms.decisions import OutsideDecisionForm, OutsideForm
from instruments.recall.models import OutsideCertificate
from instruments.recall.queries.outside import file_is_as_received
from labsys.journal.access import READ_RECORDS
from labsys.pages.refusals import attempt

_TYPES = {"pdf": "application/pdf", "png": "image/png", "jpg": "image/jpeg"}


@login_required
@permission_required(RECEIVE_OUTSIDE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def receive(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a certificate on file."""
    gauge = gauge_or_404(pk)
    form = OutsideForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        said = {"gauge": gauge, "data": form.data_given(), "file": form.cleaned_data["file"]}
        by, now = person(request), timezone.now()
        row = attempt(form, recall.receive_outside_certificate, **said, by=by, now=now)
        if row is not None:
            messages.success(request, f"{row} is on file. It counts once it is accepted.")
            return redirect("outside-certificate", row.pk)
    heading = f"A certificate of another laboratory for {gauge}"
    return form_page(request, form, heading=heading, act="Put on file", back=home(gauge), gauge=gauge)


def _certificate(pk: int) -> OutsideCertificate:
    rows = OutsideCertificate.objects.select_related("gauge__tag", "received_by", "decided_by")
    return get_object_or_404(rows, pk=pk)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_http_methods(["GET", "POST"])
def certificate(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a certificate; who may, decides about it here."""
    row, by = _certificate(pk), person(request)
    form = OutsideDecisionForm(request.POST or None) if by.may(ACCEPT_OUTSIDE) and _is_open(row) else None
    if request.method == "POST" and form is None:
        messages.error(request, "The certificate is decided already, or you may not decide about it.")
        return redirect("outside-certificate", pk)
    if form is not None and form.is_valid():
        accepts = form.cleaned_data["decision"] == "accept"
        act: Callable[..., Any] = (
            recall.accept_outside_certificate if accepts else recall.reject_outside_certificate
        )
        said = {"certificate": row, "reason": form.cleaned_data["reason"]}
        if attempt(form, act, **said, by=by, now=timezone.now()) is not None:
            messages.success(request, f"{row} is {'accepted' if accepts else 'rejected'}.")
            return redirect(home(row.gauge))
    context = {"certificate": row, "form": form, "file_is_as_received": file_is_as_received(row)}
    status = 422 if form is not None and form.errors else 200
    return render(request, "instruments/recall/outside.html", context, status=status)


def _is_open(row: OutsideCertificate) -> bool:
    return row.accepted_at is None and row.rejected_at is None


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def file(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Give the file of a certificate, exactly as it was received."""
    row = _certificate(pk)
    kind = str(row.file.name).rsplit(".", 1)[-1]
    name = f"{row.gauge}-{row.calibrated_on:%Y-%m-%d}.{kind}"
    answer = FileResponse(row.file.open("rb"), content_type=_TYPES[kind], as_attachment=True, filename=name)
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
