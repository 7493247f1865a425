"""The reviewer's pages: what waits for a signature, and one submission with everything to look at before signing."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from instruments.certificates.forms import SignForm
from instruments.desk.reviewing import asking, submission_shown, waiting_for
from instruments.inventory.views.frame import person
from instruments.measuring.access import REVIEW
from instruments.measuring.models import Submission


@login_required
@permission_required(REVIEW, raise_exception=True)
@require_GET
def waiting(request: HttpRequest) -> HttpResponse:
    """Show the reviewer what waits for a signature, longest first, and who asks for a deviation."""
    context = {"waiting": waiting_for(person(request), timezone.now()), "asking": asking()}
    return render(request, "instruments/desk/review.html", context)


@login_required
@permission_required(REVIEW, raise_exception=True)
@require_GET
def submission(request: HttpRequest, pk: int) -> HttpResponse:
    """Show everything that was measured, and take the signature below it."""
    rows = Submission.objects.select_related(
        "submitted_by",
        "session__gauge__tag",
        "session__gauge__model__family",
        "session__gauge__department",
        "session__revision",
        "session__place",
        "session__opened_by",
    )
    found = get_object_or_404(rows, pk=pk)
    context = submission_shown(found, person(request), timezone.now())
    context["form"] = SignForm(initial={"seen_sha256": found.record_sha256})
    return render(request, "instruments/desk/review_submission.html", context)
