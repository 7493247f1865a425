"""The file of a certificate: given only through here, to those who may read records, if it is the one that came."""

from __future__ import annotations

import re
from typing import ClassVar

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS
from labsys.pages import refusals
from standards.register.access import KEEP_STANDARDS
from standards.register.asking import person_behind
from standards.traceability import files, operations
from standards.traceability.forms.certificates import FileForm
from standards.traceability.models import CertificateReceived


class FileNotAsReceived(LabError):
    """The kept file isn't the one that came, so it isn't shown as that certificate."""

    code: ClassVar[str] = "file-not-as-received"
    sentence: ClassVar[str] = "Certificate {number}: {fault}."


# A browser's own viewer of PDF files brings styles and an object of its own; scripts stay shut out.
VIEWER_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data: blob:; object-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_safe
@cache_control(private=True, no_store=True)
def file(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Give the file, under a name made of its number."""
    row = get_object_or_404(CertificateReceived, pk=pk)
    if not row.file:
        raise Http404("no file of this certificate")
    name = str(row.file.name)
    fault = files.fault(name, row.file_sha256)
    if fault:
        raise FileNotAsReceived(number=row.number, fault=fault, subject=f"certificate-received:{row.pk}")
    called = re.sub(r"[^A-Za-z0-9._-]+", "-", row.number).strip("-.") or "certificate"
    ending = name.rpartition(".")[2]
    kept = row.file.open("rb")
    answer = FileResponse(kept, content_type=files.media_type(name), filename=f"{called}.{ending}")
    answer["Content-Security-Policy"] = VIEWER_POLICY
    return answer


@login_required
@permission_required(KEEP_STANDARDS, raise_exception=True)
def attach(request: HttpRequest, pk: int) -> HttpResponse:
    """Add the scan to a certificate that came without one."""
    row = get_object_or_404(CertificateReceived.objects.select_related("calibration__standard__tag"), pk=pk)
    form = FileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        by, act = person_behind(request), operations.attach_file
        if refusals.attempt(form, act, certificate=row, file=form.received(), by=by, now=timezone.now()):
            messages.success(request, "The file was added.")
            return redirect("certificate-received", pk=row.pk)
    context = {"form": form, "certificate": row, "standard": row.calibration.standard}
    return render(
        request, "standards/traceability/attach.html", context, status=422 if form.is_bound else 200
    )
