"""The walk from a certificate up to the national institute, and the evidence to take away."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from instruments.certificates.operations import export_evidence
from instruments.certificates.queries import file_name
from instruments.certificates.views.frame import certificate_or_404, person
from instruments.certificates.walking import walk_of
from labsys.journal.access import READ_RECORDS


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def chain(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the way from a certificate up to where each chain ends, every link judged at the moment of its use."""
    row = certificate_or_404(pk)
    context = {"certificate": row, "session": row.session, "walk": walk_of(row)}
    return render(request, "instruments/certificates/chain.html", context)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_POST
def evidence(request: HttpRequest, pk: int) -> HttpResponse:
    """Give everything behind a certificate as one file; by POST, since the journal notes who took it."""
    row = certificate_or_404(pk)
    packed = export_evidence(certificate=row, by=person(request), now=timezone.now())
    response = HttpResponse(packed, content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="evidence-{file_name(row.number)}.zip"'
    response["Cache-Control"] = "private, no-store"
    return response
