"""Photos kept as evidence as browsers get them: only through here, and only if the file is the one that came."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.auth.decorators import login_required, permission_required
from django.core.files.storage import default_storage
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_GET

from instruments.inventory.models.photos import CustodyPhoto, KeptPhoto
from instruments.inventory.pictures import TYPES, read_kept
from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS

# A browser's own viewer of pictures brings a style; scripts stay shut out.
CONTENT_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src 'self'; frame-ancestors 'none'"
ENDINGS = {media_type: ending for ending, media_type in TYPES.values()}


class PhotoNotAsTaken(LabError):
    """The kept file isn't the one that came, so it isn't shown as that photo."""

    code: ClassVar[str] = "photo-not-as-taken"
    sentence: ClassVar[str] = "This photo can't be shown: {fault}."


def original(row: KeptPhoto) -> HttpResponse:
    """Give a photo byte for byte as it came; raises PhotoNotAsTaken."""
    content, fault = read_kept(row.file, row.sha256)
    if fault or content is None:
        raise PhotoNotAsTaken(fault=fault)
    answer = _answer(content, row.media_type)
    answer["Content-Disposition"] = f'inline; filename="{row.sha256[:16]}.{ENDINGS[row.media_type]}"'
    return answer


def preview(row: KeptPhoto) -> HttpResponse:
    """Give the small picture that pages show."""
    try:
        with default_storage.open(row.preview, "rb") as kept:
            return _answer(kept.read(), "image/jpeg")
    except OSError as problem:
        raise Http404("the preview is missing from the store") from problem


def _answer(content: bytes, media_type: str) -> HttpResponse:
    answer = HttpResponse(content, content_type=media_type)
    answer["Content-Security-Policy"] = CONTENT_POLICY
    answer["Cache-Control"] = "private, max-age=3600"
    return answer


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def custody_photo(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a photo of a step of a gauge's way as it came."""
    return original(get_object_or_404(CustodyPhoto, pk=pk))


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def custody_photo_preview(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a photo of a step of a gauge's way small."""
    return preview(get_object_or_404(CustodyPhoto, pk=pk))
