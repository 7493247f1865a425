"""Certificates received: the list, and the page of one with what the program found and the review."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from labsys.accounts.operations import sign_in_again
from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS
from standards.register import marks
from standards.register.access import ACCEPT_CALIBRATIONS, KEEP_STANDARDS
from standards.register.asking import person_behind
from standards.traceability import operations
from standards.traceability.checklist import QUESTIONS
from standards.traceability.forms.reviews import ReviewForm
from standards.traceability.models import CertificateReceived, CertificateReview
from standards.traceability.quantities import QUANTITIES
from standards.traceability.queries import (
    certificates,
    chain_of,
    observations,
    value_rows,
    waiting_for_review,
)

PAGE_SIZE = 50


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
def listing(request: HttpRequest) -> HttpResponse:
    """List the certificates; those that wait for review first, the others newest first."""
    paginator = Paginator(certificates().exclude(review=None), PAGE_SIZE)
    page = paginator.get_page(request.GET.get("page"))
    context = {
        "waiting": waiting_for_review(),
        "page": page,
        "may_review": request.user.has_perm(ACCEPT_CALIBRATIONS),
    }
    return render(request, "standards/traceability/certificates.html", context)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
def certificate(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a certificate; where it waits, a reviewer finds what the program saw beside each question, and decides."""
    row = get_object_or_404(certificates(), pk=pk)
    now = timezone.now()
    form = ReviewForm(request.POST or None)
    if request.method == "POST":
        if not request.user.has_perm(ACCEPT_CALIBRATIONS):
            raise PermissionDenied
        if form.is_valid() and (review := _review(request, form, row, now)):
            said = f"Certificate {row.number} was {review.get_decision_display()}, signed in your name."
            messages.success(request, said)
            return redirect("certificate-received", pk=row.pk)
    status = 422 if form.is_bound else 200
    return render(
        request, "standards/traceability/certificate.html", _context(request, row, form, now), status=status
    )


def _review(
    request: HttpRequest, form: ReviewForm, row: CertificateReceived, now: datetime
) -> CertificateReview | None:
    person = person_behind(request)
    given = form.cleaned_data
    try:
        proof = sign_in_again(person=person, password=given["password"], now=now)
        return operations.review_certificate(
            certificate=row,
            answers=form.answers(),
            decision=given["decision"],
            reason=given["reason"],
            proof=proof,
            by=person,
            now=now,
        )
    except LabError as refusal:
        # A decision that stands can't be mended in a form; the page of refusals says so.
        if isinstance(refusal, operations.AlreadyReviewed):
            raise
        form.blame(refusal)
    return None


def _context(
    request: HttpRequest, row: CertificateReceived, form: ReviewForm, now: datetime
) -> dict[str, Any]:
    review = getattr(row, "review", None)
    waits = review is None
    found = observations(row, now) if waits else {}
    return {
        "certificate": row,
        "calibration": row.calibration,
        "standard": row.calibration.standard,
        "quantity": QUANTITIES.get(row.quantity, row.quantity),
        "mark": marks.of_review(row.calibration),
        "review": review,
        "answers": _answers(review),
        "values": value_rows(row.calibration, now),
        "node": chain_of(row.calibration, now if waits else row.calibration.accepted_at or now),
        "form": form,
        "questions": [(one, found.get(one.question.code, ())) for one in form.asked()],
        "may_review": waits and request.user.has_perm(ACCEPT_CALIBRATIONS),
        "may_attach": not row.file and request.user.has_perm(KEEP_STANDARDS),
    }


def _answers(review: CertificateReview | None) -> list[dict[str, Any]]:
    given = review.answers if review else {}
    return [{"question": question, **given.get(question.code, {})} for question in QUESTIONS if given]
