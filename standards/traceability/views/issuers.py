"""Issuers and their scopes: who issues certificates for our standards, and what for, on any day."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date, start_of_day
from labsys.pages import refusals
from standards.register.asking import person_behind
from standards.register.forms import OnForm
from standards.traceability import operations
from standards.traceability.access import MANAGE_ISSUERS
from standards.traceability.forms.issuers import IssuerForm, ScopeForm, WithdrawForm
from standards.traceability.models import Accreditation, Issuer
from standards.traceability.quantities import OF_ANGLES, QUANTITIES
from standards.traceability.queries import accreditations_at, certificates, issuers

RECENT = 20


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
def listing(request: HttpRequest) -> HttpResponse:
    """List the issuers."""
    context = {"issuers": issuers(), "may_manage": request.user.has_perm(MANAGE_ISSUERS)}
    return render(request, "standards/traceability/issuers.html", context)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
def issuer(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an issuer with what it was recognised for on the day in the address, and every line ever recorded."""
    row = get_object_or_404(Issuer, pk=pk)
    now = timezone.now()
    asked = OnForm.of(request.GET, now)
    day = asked.day(now)
    context = {
        "issuer": row,
        "asked": asked,
        "day": day,
        "is_today": day == local_date(now),
        "scopes": [_line(line) for line in accreditations_at(row, day)],
        "history": [
            _line(line) for line in row.accreditations.order_by("-valid_from", "-recorded_at", "-pk")
        ],
        "certificates": certificates().filter(issuer=row)[:RECENT],
        "may_manage": request.user.has_perm(MANAGE_ISSUERS),
    }
    return render(request, "standards/traceability/issuer.html", context)


@login_required
@permission_required(MANAGE_ISSUERS, raise_exception=True)
def register(request: HttpRequest) -> HttpResponse:
    """Record an issuer."""
    form = IssuerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        by, act = person_behind(request), operations.register_issuer
        row = refusals.attempt(form, act, by=by, now=timezone.now(), **form.cleaned_data)
        if row is not None:
            messages.success(request, f"{row.name} is recorded. Next: what it is recognised for.")
            return redirect("issuer", pk=row.pk)
    return _form(request, form, heading="Record an issuer", button="Record")


@login_required
@permission_required(MANAGE_ISSUERS, raise_exception=True)
def add_scope(request: HttpRequest, pk: int) -> HttpResponse:
    """Record a line of an issuer's scope."""
    row = get_object_or_404(Issuer, pk=pk)
    form = ScopeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        by, act, data = person_behind(request), operations.record_accreditation, form.data_given()
        if refusals.attempt(form, act, issuer=row, data=data, by=by, now=timezone.now()):
            messages.success(request, "The line was recorded.")
            return redirect("issuer", pk=row.pk)
    return _form(request, form, row, heading=f"A line of the scope of {row.name}", button="Record")


@login_required
@permission_required(MANAGE_ISSUERS, raise_exception=True)
def withdraw_scope(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that a line of a scope no longer holds from a day on."""
    line = get_object_or_404(Accreditation.objects.select_related("issuer"), pk=pk)
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        done = refusals.attempt(
            form,
            operations.withdraw_accreditation,
            accreditation=line,
            valid_from=start_of_day(form.cleaned_data["valid_from"]),
            reason=form.cleaned_data["reason"],
            by=person_behind(request),
            now=timezone.now(),
        )
        if done:
            messages.success(request, "The line no longer holds from that day on. Chains below it say so.")
            return redirect("issuer", pk=line.issuer_id)
    heading = f"Withdraw {line.body} {line.number}, {QUANTITIES.get(line.quantity, line.quantity)}"
    return _form(request, form, line.issuer, heading=heading, button="Withdraw")


def _line(row: Accreditation) -> dict[str, Any]:
    service = QUANTITIES.get(row.quantity, row.quantity)
    return {"row": row, "service": service, "is_angle": row.quantity in OF_ANGLES}


def _form(request: HttpRequest, form: Form, row: Issuer | None = None, **words: str) -> HttpResponse:
    context = {"form": form, "issuer": row, **words}
    status = 422 if form.is_bound else 200
    return render(request, "standards/traceability/issuer_form.html", context, status=status)
