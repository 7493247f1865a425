"""Settling with a department: recording what was agreed, anew or for the first time, and withdrawing it."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from labsys.journal.door import Acting
from labsys.laboratory import queries
from labsys.laboratory.access import MANAGE_LABORATORY
from labsys.laboratory.as_of import beginning
from labsys.laboratory.forms.agreements import AgreementForm, LimitLines, lines_given
from labsys.laboratory.forms.withdrawing import WithdrawForm
from labsys.laboratory.models import Agreement
from labsys.laboratory.operations import agree, withdraw_agreement
from labsys.laboratory.views.agreements import row_or_404
from labsys.pages import figures
from labsys.pages.form_page import FormPage, Step
from labsys.pages.refusals import attempt

TEMPLATE = "labsys/laboratory/agreement_form.html"


def _path() -> tuple[Step, ...]:
    return (("Lab", reverse("lab")), ("Agreements", reverse("agreements")))


@login_required
@permission_required(MANAGE_LABORATORY, raise_exception=True)
@require_http_methods(["GET", "POST"])
def settle(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Record what was agreed; starting from an agreement where the address names one."""
    today = queries.local_date(timezone.now())
    before = row_or_404(pk) if pk is not None else None
    if request.method == "POST":
        form, lines = AgreementForm(request.POST), LimitLines(request.POST, prefix="rows")
    elif before is not None:
        form = AgreementForm.after(before, valid_from=today)
        lines = LimitLines(
            initial=figures.limit_rows(before.limit_rows or [], before.family.quantity), prefix="rows"
        )
    else:
        form, lines = AgreementForm(initial={"valid_from": today}), LimitLines(prefix="rows")
    if "more" in request.POST:
        lines = _longer(lines)
    elif form.is_valid() and lines.is_valid():
        row = _agree(request, form, lines)
        if row is not None:
            messages.success(request, f"{row}: agreed from {queries.local_date(row.valid_from)} on.")
            return redirect("agreement", row.pk)
    heading = f"Settle anew: {before}" if before else "Record an agreement"
    page = FormPage(heading=heading, act="Record", path=_path(), template=TEMPLATE)
    return page.show(request, form, lines=lines, wide=True)


def _agree(request: HttpRequest, form: AgreementForm, lines: Any) -> Agreement | None:
    given, now = form.cleaned_data, timezone.now()
    return attempt(
        form,
        agree,
        department=given["department"],
        family=given["family"],
        terms=form.terms(lines_given(lines)),
        agreed_by=given["agreed_by"],
        valid_from=beginning(given["valid_from"], now),
        by=cast(Acting, request.user),
        now=now,
    )


def _longer(lines: Any) -> Any:
    """Give the lines back as typed, with empty ones below; nothing is stored."""
    lines.is_valid()
    typed = [form.cleaned_data for form in lines if getattr(form, "cleaned_data", None)]
    return LimitLines(initial=[row for row in typed if any(row.values())], prefix="rows")


@login_required
@permission_required(MANAGE_LABORATORY, raise_exception=True)
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw what a department agreed for a family."""
    row = row_or_404(pk)
    form = WithdrawForm(request.POST or None)
    if form.is_valid():
        pair = {"department": row.department, "family": row.family, "reason": form.cleaned_data["reason"]}
        ended = attempt(form, withdraw_agreement, **pair, by=cast(Acting, request.user), now=timezone.now())
        if ended is not None:
            messages.success(
                request, f"{row}: nothing is agreed any more. No new session can begin for these gauges."
            )
            return redirect("agreement", ended.pk)
    path = (*_path(), (str(row), reverse("agreement", args=[pk])))
    page = FormPage(heading=f"Withdraw: {row}", act="Withdraw", path=path, lead=WITHDRAWS, stops=True)
    return page.show(request, form)


WITHDRAWS = (
    "Without an agreement no session begins for these gauges. "
    "Sessions that are open keep what was agreed when they began."
)
