"""What the pages of certificates share: who asks, the rows an address names, the page with one form."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from instruments.certificates.models import Certificate
from instruments.certificates.queries import certificates
from instruments.measuring.models import Submission
from labsys.accounts.models import Person


def person(request: HttpRequest) -> Person:
    """Give the person behind a request that passed the sign-in, with the roles held, which signing asks for often."""
    user = cast(Person, request.user)
    prefetch_related_objects([user], "groups")
    return user


def certificate_or_404(pk: int) -> Certificate:
    """Find the certificate an address names, with its document."""
    rows = certificates().defer(None).select_related("signature", "supersedes", "superseded_by")
    return get_object_or_404(rows, pk=pk)


def submission_or_404(pk: int) -> Submission:
    """Find the submission an address names."""
    rows = Submission.objects.select_related(
        "submitted_by", "session__gauge__tag", "session__gauge__model__family", "session__gauge__department"
    )
    return get_object_or_404(rows, pk=pk)


def form_page(request: HttpRequest, template: str, form: forms.Form, **context: Any) -> HttpResponse:
    """Show a page that holds one form: 422 where it was sent and is to be mended."""
    status = 422 if form.is_bound and form.errors else 200
    return render(request, template, {"form": form, **context}, status=status)
