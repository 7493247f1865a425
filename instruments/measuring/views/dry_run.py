"""Pages on which a draft is tried on past sessions of its family, and on which a kept outcome is read."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from instruments.measuring.dry_run import AGREED, OWN, Tried, past_sessions, read_back, try_on_past
from instruments.measuring.dry_run.keeping import Asked, keep_outcome
from instruments.measuring.dry_run.showing import headings, largest, rows, shown
from instruments.measuring.views.frame import person
from instruments.procedures.access import APPROVE_PROCEDURES
from instruments.procedures.models import Revision
from instruments.procedures.operations import NoLongerDraft
from instruments.procedures.queries import revisions
from instruments.procedures.validating import validations
from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS
from labsys.journal.door import hash_of
from labsys.metrology.units import Quantity
from labsys.pages import export


class TryForm(forms.Form):
    """How many sessions a draft is tried on, and by whose rule."""

    sessions = forms.ChoiceField(
        label="Past sessions",
        choices=[("5", "the newest 5"), ("20", "the newest 20"), ("50", "the newest 50")],
        initial="20",
    )
    rule = forms.ChoiceField(
        label="Judged by",
        choices=[(AGREED, "the rule agreed for each session"), (OWN, "the draft's own rule")],
        initial=AGREED,
        required=False,
    )

    def asked(self) -> Asked:
        """Give what was asked for."""
        return Asked(int(self.cleaned_data["sessions"]), self.cleaned_data["rule"] == OWN)


class KeepForm(TryForm):
    """The same, with the hash of the outcome that was looked at."""

    seen = forms.CharField(max_length=64)


class RecordAltered(LabError):
    """A kept outcome isn't the one whose hash was kept."""

    code: ClassVar[str] = "validation-altered"
    sentence: ClassVar[str] = (
        "What was kept of {revision} has the SHA-256 {found}, but {expected} was journalled with it, so it was altered "
        "past the program. Restore it from a backup and look for who did it."
    )


@login_required
@permission_required(APPROVE_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def dry_run(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Try a draft on past sessions; with a POST keep what was found as evidence."""
    row = get_object_or_404(revisions(), pk=pk)
    if row.approved_at is not None:
        raise NoLongerDraft(revision=str(row))
    if request.method == "POST":
        return _keep(request, row)
    form = TryForm(request.GET if "sessions" in request.GET else None)
    tried = _tried(form, row)
    if tried is not None and request.GET.get("as"):
        return _file(tried, request.GET["as"], Quantity(row.procedure.family.quantity))
    context = {"revision": row, "form": form, "past_count": past_sessions(row).count(), **_outcome(tried)}
    status = 422 if form.errors else 200
    return render(request, "instruments/measuring/dry_run.html", context, status=status)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def validation(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Show an outcome that was kept, or give it as a file."""
    kept = get_object_or_404(validations(), pk=pk)
    found = hash_of(kept.record)
    if found != kept.record_sha256:
        raise RecordAltered(revision=str(kept.revision), found=found, expected=kept.record_sha256)
    tried = read_back(kept.record)
    if request.GET.get("as"):
        return _file(tried, request.GET["as"], Quantity(kept.revision.procedure.family.quantity))
    context = {"revision": kept.revision, "kept": kept, **_outcome(tried)}
    return render(request, "instruments/measuring/dry_run_kept.html", context)


def _keep(request: HttpRequest, row: Revision) -> HttpResponseBase:
    form = KeepForm(request.POST)
    if not form.is_valid():
        context = {"revision": row, "form": form, "past_count": past_sessions(row).count()}
        return render(request, "instruments/measuring/dry_run.html", context, status=422)
    kept = keep_outcome(
        revision=row,
        asked=form.asked(),
        seen_sha256=form.cleaned_data["seen"],
        by=person(request),
        now=timezone.now(),
    )
    messages.success(request, "Kept as evidence. The approval page and the revision say so.")
    return redirect("revision-validation", pk=kept.pk)


def _tried(form: TryForm, row: Revision) -> Tried | None:
    if not form.is_valid():
        return None
    asked = form.asked()
    return try_on_past(row, asked.at_most, own_rule=asked.own_rule)


def _outcome(tried: Tried | None) -> dict[str, Any]:
    if tried is None:
        return {"tried": None}
    return {
        "tried": tried,
        "sessions": shown(tried),
        "largest": largest(tried),
        "is_own_rule": tried.rule == OWN,
    }


def _file(tried: Tried, kind: str, quantity: Quantity) -> HttpResponseBase:
    safe = "".join(
        sign if sign.isascii() and (sign.isalnum() or sign in "-._") else "-" for sign in tried.procedure
    )
    name = f"{safe}-revision-{tried.revision}-on-past-sessions"
    return export.answer(name, headings=headings(quantity), rows=rows(tried), kind=kind)
