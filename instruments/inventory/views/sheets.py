"""Pages for bringing many gauges at once: the file, what would come of each row, and the one act for all."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.forms.sheets import ConfirmForm, UploadForm
from instruments.inventory.models import GaugeImport
from instruments.inventory.operations import confirm_sheet, discard_sheet, keep_sheet
from instruments.inventory.operations.rows import HEADINGS, REQUIRED
from instruments.inventory.operations.sheets import judge, recognised
from instruments.inventory.views.frame import person
from labsys.pages import export
from labsys.pages.refusals import attempt

MOST_FAULTS, MOST_GOOD = 200, 50


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def upload(request: HttpRequest) -> HttpResponse:
    """Bring a file with gauges; it is kept until it is registered or laid aside."""
    form = UploadForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        sheet = form.cleaned_data["file"]
        kept = attempt(form, keep_sheet, sheet=sheet, by=person(request), now=timezone.now())
        if kept is not None:
            return redirect("gauge-sheet", kept.pk)
    open_sheets = GaugeImport.objects.filter(confirmed_at=None, discarded_at=None)
    context = {
        "form": form,
        "columns": [(heading, name in REQUIRED) for name, heading in HEADINGS.items()],
        "open_sheets": open_sheets.select_related("uploaded_by").defer("rows")[:20],
    }
    return render(request, "instruments/inventory/upload.html", context, status=422 if form.errors else 200)


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what would come of each row; register all of them, or nothing."""
    kept = get_object_or_404(GaugeImport.objects.select_related("uploaded_by"), pk=pk)
    form = ConfirmForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        made = attempt(form, confirm_sheet, kept=kept, reason=reason, by=person(request), now=timezone.now())
        if made is not None:
            messages.success(request, f"{len(made)} gauges are registered from {kept.file_name}.")
            return redirect("gauges")
    return render(
        request, "instruments/inventory/sheet.html", _preview(kept, form), status=422 if form.errors else 200
    )


def _preview(kept: GaugeImport, form: ConfirmForm) -> dict[str, object]:
    is_open = kept.confirmed_at is None and kept.discarded_at is None
    judged = judge(kept) if is_open else []
    faulty = [row for row in judged if row.data is None]
    good = [row for row in judged if row.data is not None]
    read = recognised(kept.columns).values()
    return {
        "kept": kept,
        "form": form,
        "is_open": is_open,
        "rows": len(kept.rows),
        "faulty": faulty[:MOST_FAULTS],
        "faulty_count": len(faulty),
        "good": good[:MOST_GOOD],
        "good_count": len(good),
        "unread": [title for number, title in enumerate(kept.columns) if number not in read and title],
    }


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_POST
def discard(request: HttpRequest, pk: int) -> HttpResponse:
    """Lay a sheet aside."""
    kept = get_object_or_404(GaugeImport, pk=pk)
    discard_sheet(kept=kept, by=person(request), now=timezone.now())
    messages.success(request, f"{kept.file_name} is laid aside; nothing of it was registered.")
    return redirect("gauge-sheets")


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_GET
def empty_sheet(request: HttpRequest, kind: str) -> HttpResponseBase:
    """Give a sheet that holds the names of the columns and nothing else."""
    return export.answer("gauges", headings=list(HEADINGS.values()), rows=[], kind=kind)
