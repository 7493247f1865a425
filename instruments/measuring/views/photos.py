"""Photos of the bench: taken over one by one, so that a bad one keeps no good one back; shown to who reads records."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from instruments.inventory.forms.files import picture_of
from instruments.inventory.pictures import Picture
from instruments.inventory.views import photos as evidence
from instruments.measuring.access import MEASURE
from instruments.measuring.entry_forms import PhotosForm
from instruments.measuring.models import Run, Session
from instruments.measuring.models.photos import Photo
from instruments.measuring.open_items import looks_of
from instruments.measuring.operations import PhotoData, add_photos
from instruments.measuring.queries import current_run
from instruments.measuring.showing.photos import PhotoShown, photos_of
from instruments.measuring.showing.steps import Step
from instruments.measuring.views.frame import form_page, home, person, session_or_404, takes_readings
from instruments.measuring.views.session import number
from instruments.procedures.queries import content_of
from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS


@dataclass
class Taken:
    """What became of the photos sent together."""

    kept: list[Photo] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def photos(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the photos of the run under way, and take more; a script asks for the answer as JSON."""
    found = session_or_404(pk)
    by_script = request.headers.get("Accept", "").startswith("application/json")
    if not takes_readings(found) and not by_script:
        return redirect("session", pk)
    run = _run(request, found)
    content = content_of(found.revision)
    looks = [(look.code, look.text) for look in looks_of(run, content)]
    form = PhotosForm(
        request.POST or None,
        request.FILES or None,
        looks=looks,
        initial={"look": request.GET.get("look", "")},
    )
    if request.method == "POST" and form.is_valid():
        taken = _take(request, run, form.cleaned_data)
        if by_script:
            return JsonResponse(_told(request, taken, photos_of(run, content)))
        if not taken.refused:
            count = len(taken.kept)
            messages.success(
                request, f"{count} photo{'s are' if count > 1 else ' is'} kept with the session."
            )
            return redirect(home(found, f"step={Step.LOOKS.value}"))
        for sentence in taken.refused:
            form.add_error("photos", sentence)
    if by_script:
        said = [str(sentence) for sentences in form.errors.values() for sentence in sentences]
        return JsonResponse(_told(request, Taken(refused=said), ()))
    return form_page(
        request,
        form,
        session=found,
        heading="Photos",
        act="Keep them",
        back=home(found, f"step={Step.LOOKS.value}"),
        template="instruments/measuring/bench/photos.html",
        photos=photos_of(run, content),
        run=run,
    )


def _run(request: HttpRequest, found: Session) -> Run:
    """Find the run that a photo was taken in: the one the tablet names, otherwise the one under way."""
    wanted = number(request.POST.get("run", ""))
    named = found.runs.filter(pk=wanted).first() if wanted else None
    return named or current_run(found)


def _take(request: HttpRequest, run: Run, given: dict[str, Any]) -> Taken:
    """Keep those that are pictures; of the others, and where the session takes none, say why."""
    taken, pictures = Taken(), []
    files: list[UploadedFile] = given["photos"]
    try:
        for file in files:
            found = _looked_at(file, taken)
            pictures += [found] if found else []
        if pictures:
            data = PhotoData(given["look"], given["note"])
            taken.kept = add_photos(
                run=run, pictures=pictures, data=data, by=person(request), now=timezone.now()
            )
    except LabError as refusal:
        if isinstance(refusal, PermissionError):
            raise
        taken.refused.append(str(refusal))
    return taken


def _looked_at(file: UploadedFile, taken: Taken) -> Picture | None:
    try:
        return picture_of(file)
    except LabError as refusal:
        taken.refused.append(str(refusal))
        return None


def _told(request: HttpRequest, taken: Taken, shown: tuple[PhotoShown, ...]) -> dict[str, Any]:
    """Answer a script: it may let go of a photo only where its own id comes back with what became of it."""
    says = {one.photo.pk: one.says for one in shown}
    return {
        "id": request.POST.get("client_id", "")[:64],
        "kept": [
            {
                "sha256": row.sha256,
                "url": reverse("session-photo", args=[row.pk]),
                "preview": reverse("session-photo-preview", args=[row.pk]),
                "says": says.get(row.pk, ""),
            }
            for row in taken.kept
        ],
        "refused": taken.refused,
    }


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def photo(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a photo as it came."""
    return evidence.original(get_object_or_404(Photo, pk=pk))


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def photo_preview(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a photo small."""
    return evidence.preview(get_object_or_404(Photo, pk=pk))
