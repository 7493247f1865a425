"""The reviewer's pages: what waits for a signature, and one submission with everything to look at before signing."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods

from instruments.certificates.access import SIGN_CERTIFICATES
from instruments.certificates.forms import SignForm
from instruments.certificates.gathering import draft_of
from instruments.certificates.signing import missing_in, signed_by
from instruments.certificates.views.frame import form_page
from instruments.desk.reviewing import asking, submission_shown, waiting_for
from instruments.inventory.views.frame import person
from instruments.measuring.access import REVIEW
from instruments.measuring.models import Submission
from labsys.accounts.models import Person
from labsys.errors import LabError


@login_required
@permission_required(REVIEW, raise_exception=True)
@require_GET
def waiting(request: HttpRequest) -> HttpResponse:
    """Show the reviewer what waits for a signature, longest first, and who asks for a deviation."""
    context = {"waiting": waiting_for(person(request), timezone.now()), "asking": asking()}
    return render(request, "instruments/desk/review.html", context)


@sensitive_post_parameters("password")
@login_required
@permission_required(REVIEW, raise_exception=True)
@require_http_methods(["GET", "POST"])
def submission(request: HttpRequest, pk: int) -> HttpResponse:
    """Show everything that was measured, and take the signature below it; a refused one stays on this page."""
    rows = Submission.objects.select_related(
        "submitted_by",
        "session__gauge__tag",
        "session__gauge__model__family",
        "session__gauge__department",
        "session__revision",
        "session__place",
        "session__opened_by",
    )
    found, who, now = get_object_or_404(rows, pk=pk), person(request), timezone.now()
    if request.method == "POST" and not who.has_perm(SIGN_CERTIFICATES):
        raise PermissionDenied
    form = SignForm(request.POST or None, initial={"seen_sha256": found.record_sha256})
    if form.is_valid() and (certificate := signed_by(form, found, who, now)):
        messages.success(request, f"Certificate {certificate.number} is signed. Its file is being made.")
        return redirect("certificate", pk=certificate.pk)
    context = submission_shown(found, who, now)
    if context["may_sign"]:
        context |= _what_it_will_say(found, who, now)
    return form_page(request, "instruments/desk/review_submission.html", form, **context)


def _what_it_will_say(found: Submission, who: Person, now: datetime) -> dict[str, Any]:
    """Draft the certificate; where that is refused, what was measured is still looked at and given back here."""
    try:
        draft = draft_of(found, who, now)
    except LabError as refusal:
        return {"missing": [str(refusal)]}
    return {"d": draft, "missing": missing_in(draft)}
