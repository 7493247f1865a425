"""The Lab's first page: its sections, each app's own."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import details_in_force
from labsys.pages import sections


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def lab(request: HttpRequest) -> HttpResponse:
    """Show what the Lab holds for the person behind the request."""
    context = {"groups": sections.of_place("Lab", request), "details": details_in_force(timezone.now())}
    return render(request, "labsys/laboratory/lab.html", context)
