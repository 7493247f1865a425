"""The public page behind a certificate's code: what stands, and whether a file in hand is the one that was issued.

No login, nothing stored: a file is hashed while it comes in and is gone. A wrong code gets one answer, whoever asks.
"""

from __future__ import annotations

import hashlib
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, StopUpload
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from instruments.certificates.forms import CheckForm
from instruments.certificates.models import Certificate
from instruments.certificates.queries import by_code, document_of
from instruments.certificates.views.limit import too_often

LARGEST_BYTES = 20 * 1024 * 1024


class Hashed(UploadedFile):
    """An upload of which only the hash was kept."""

    def __init__(self, name: str, size: int, sha256: str) -> None:
        super().__init__(file=BytesIO(), name=name, size=size)
        self.sha256 = sha256


class HashOnly(FileUploadHandler):
    """Hashes what comes in and keeps none of it."""

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """Begin another file."""
        super().new_file(*args, **kwargs)
        self.digest, self.received = hashlib.sha256(), 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        """Take a piece into the hash; a file far larger than any certificate is cut off."""
        self.received += len(raw_data)
        if self.received > LARGEST_BYTES:
            raise StopUpload(connection_reset=True)
        self.digest.update(raw_data)

    def file_complete(self, file_size: int) -> Hashed:
        """Give the hash in the place of the file."""
        return Hashed(self.file_name or "", file_size, self.digest.hexdigest())


# No session, no change: there is nothing that a foreign page could make a visitor do here.
@csrf_exempt
@require_http_methods(["GET", "POST"])
def verify(request: HttpRequest, code: str) -> HttpResponse:
    """Say what stands behind a code, and compare a file with the one that was issued."""
    if too_often(request, "verify"):
        response = render(request, "instruments/certificates/too_often.html", status=429)
        response["Retry-After"] = "60"
        return response
    row = by_code(code)
    if row is None:
        return render(request, "instruments/certificates/unknown.html", status=404)
    context = _context(row)
    if request.method == "POST":
        request.upload_handlers = [HashOnly(request)]
        form = CheckForm(request.POST, request.FILES)
        context |= {"form": form, "compared": _compared(form, row)}
    return render(request, "instruments/certificates/verify.html", context)


def _context(row: Certificate) -> dict[str, Any]:
    document = document_of(row)
    return {
        "certificate": row,
        "d": document,
        "form": CheckForm(),
        "findings": document.conformity.findings if document.conformity else (),
    }


def _compared(form: CheckForm, row: Certificate) -> dict[str, Any] | None:
    """Give what the comparison came to; None where no file was sent."""
    if not form.is_valid():
        return None
    given: Any = form.cleaned_data["file"]
    return {"same": given.sha256 == row.file_sha256, "sha256": given.sha256, "name": given.name}
