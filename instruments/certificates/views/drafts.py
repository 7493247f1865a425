"""The certificate as it would be signed now, to read before it is."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from instruments.certificates.access import SIGN_CERTIFICATES
from instruments.certificates.gathering import draft_of
from instruments.certificates.printing import pdf_of
from instruments.certificates.views.frame import person, submission_or_404


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
