"""The page on which a certificate is signed: the draft to read, what would stop it, then the password."""

from __future__ import annotations

from typing import ClassVar

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods

from instruments.certificates.access import SIGN_CERTIFICATES
from instruments.certificates.document import Document, missing_items
from instruments.certificates.forms import SignForm
from instruments.certificates.gathering import draft_of
from instruments.certificates.models import Certificate
from instruments.certificates.operations import sign_off
from instruments.certificates.printing import pdf_of
from instruments.certificates.printing.sheet import tables
from instruments.certificates.queries import of_session
from instruments.certificates.views.frame import form_page, person, submission_or_404
from instruments.measuring.models import Session, Submission
from labsys.accounts.operations import sign_in_again
from labsys.errors import LabError
from labsys.pages.refusals import attach

FROM_NUMBER = "4 "
"""The one item that a draft lacks by its nature."""


class NotWhatWasShown(LabError):
    """What would be signed isn't what was read."""

    code: ClassVar[str] = "not-what-was-shown"
    sentence: ClassVar[str] = "This submission was handed in anew while you read. Read it again, then sign."


@sensitive_post_parameters("password")
@login_required
@permission_required(SIGN_CERTIFICATES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def sign(request: HttpRequest, pk: int) -> HttpResponse:
    """Sign a submission off: what is signed is shown, then the password is asked for."""
    submission = submission_or_404(pk)
    done = of_session(submission.session)
    if done is not None:
        return redirect("certificate", pk=done.pk)
    form = SignForm(request.POST or None, initial={"seen_sha256": submission.record_sha256})
    if form.is_valid() and (certificate := _signed(request, form, submission)):
        messages.success(request, f"Certificate {certificate.number} is signed. Its file is being made.")
        return redirect("certificate", pk=certificate.pk)
    draft = draft_of(submission, person(request), timezone.now())
    return form_page(
        request,
        "instruments/certificates/sign.html",
        form,
        submission=submission,
        d=draft,
        tables=tables(draft),
        stops=[*_not_waiting(submission), *stops(draft)],
    )


@login_required
@permission_required(SIGN_CERTIFICATES, raise_exception=True)
@require_GET
def draft(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the certificate as it would be signed now, marked as a draft on every page."""
    document = draft_of(submission_or_404(pk), person(request), timezone.now())
    response = HttpResponse(pdf_of(document, draft=True), content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="draft.pdf"'
    response["Cache-Control"] = "private, no-store"
    return response


def stops(document: Document) -> list[str]:
    """Name what would keep the draft from being signed, the number aside."""
    found = missing_items(document)
    return [item.split(" ", 1)[1] for item in found if not item.startswith(FROM_NUMBER)]


def _not_waiting(submission: Submission) -> list[str]:
    """Say why nothing waits for a signature here."""
    state = Session.State(submission.session.state)
    return [] if state is Session.State.SUBMITTED else [f"a session that waits (this one is {state.label})"]


def _signed(request: HttpRequest, form: SignForm, submission: Submission) -> Certificate | None:
    """Sign in again and sign off; every refusal stays on the page, the password's beside its field."""
    who, now, given = person(request), timezone.now(), form.cleaned_data
    try:
        if given["seen_sha256"] != submission.record_sha256:
            raise NotWhatWasShown()
        proof = sign_in_again(person=who, password=given["password"], now=now)
        return sign_off(submission=submission, proof=proof, by=who, now=now)
    except LabError as refusal:
        attach(form, refusal)
        return None
