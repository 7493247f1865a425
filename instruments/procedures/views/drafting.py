"""Pages on which a procedure is started and a draft is changed, one section or one item at a time."""

from __future__ import annotations

import json
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.procedures.access import DRAFT_PROCEDURES
from instruments.procedures.forms.acts import ChangeForm, DraftForm, ReplaceForm, StartForm
from instruments.procedures.forms.faults import attach_refusal
from instruments.procedures.forms.sections import SECTIONS
from instruments.procedures.models import Revision
from instruments.procedures.operations import (
    NoLongerDraft,
    change_draft,
    draft_revision,
    start_procedure,
)
from instruments.procedures.queries import latest
from instruments.procedures.views.frame import form_page, home, person, procedure_or_404, revision_or_404
from labsys.errors import LabError
from labsys.pages.refusals import attempt

TITLES = {
    "scope": "What it is for",
    "reading": "Zero and readings",
    "points": "Points",
    "windows": "One point of each other function",
    "conditions": "Room and standards",
    "coverage": "Repeatability, coverage and reporting",
    "rule": "Decision rule",
}
LEADS = {
    "reading": "A function without a rule for its reading can have no point",
    "points": "Rules for gauges whose points spread over range and measuring faces",
    "windows": "A function without lengths gets no point",
    "rule": "It holds where the owner of the gauges agreed on nothing else",
}


@login_required
@permission_required(DRAFT_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def start(request: HttpRequest) -> HttpResponse:
    """Start a procedure for a family."""
    form = StartForm(request.POST or None)
    if form.is_valid():
        made = attempt(form, start_procedure, **form.cleaned_data, by=person(request), now=timezone.now())
        if made is not None:
            messages.success(request, f"{made} is started. Draft its first revision.")
            return redirect("revision-draft", pk=made.pk)
    return form_page(request, form, heading="Start a procedure", act="Start", back=reverse("procedures"))


@login_required
@permission_required(DRAFT_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def draft(request: HttpRequest, pk: int) -> HttpResponse:
    """Start the next revision of a procedure."""
    row = procedure_or_404(pk)
    form = DraftForm(request.POST or None, request.FILES or None, last=latest(row), family=row.family.code)
    if form.is_valid():
        given = {"content_text": form.content_text(), "change": form.cleaned_data["change"]}
        made = attempt(form, draft_revision, procedure=row, **given, by=person(request), now=timezone.now())
        if made is not None:
            messages.success(
                request, f"{made} is a draft now. Change it part by part, then have it approved."
            )
            return redirect(home(made))
    back = reverse("procedure", args=[pk])
    return form_page(
        request, form, heading=f"Next revision of {row.code}", act="Draft it", back=back, procedure=row
    )


@login_required
@permission_required(DRAFT_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def section(request: HttpRequest, pk: int, section: str) -> HttpResponse:
    """Change one section of a draft."""
    row, kind = draft_or_refuse(pk), SECTIONS.get(section)
    if kind is None:
        raise Http404("no such section")
    stored = json.loads(row.content)
    has_points = stored.get("points") is not None
    if section == "windows" and not has_points:
        raise Http404("no rules that could have windows")
    may_remove = section == "points" and has_points and bool(stored.get("series"))
    if may_remove and request.POST.get("act") == "remove":
        return keep_at_once(request, row, {**stored, "points": None}, section)
    form = kind.of(stored, row.content_sha256, request.POST or None)
    if form.is_valid() and changed(request, form, row, form.apply(stored)):
        return redirect(home(row, section))
    context = {
        "heading": f"{TITLES[section]}: {row}",
        "lead": LEADS.get(section, ""),
        "act": "Keep",
        "back": home(row, section),
        "revision": row,
        "may_remove": may_remove,
        "remove": "Remove these rules",
    }
    return form_page(request, form, **context)


@login_required
@permission_required(DRAFT_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def replace(request: HttpRequest, pk: int) -> HttpResponse:
    """Replace what a draft says by a file."""
    row = draft_or_refuse(pk)
    form = ReplaceForm(request.POST or None, request.FILES or None, initial={"based_on": row.content_sha256})
    if form.is_valid() and kept(request, form, row, form.cleaned_data["content"]):
        return redirect(home(row))
    return form_page(
        request, form, heading=f"Replace {row} by a file", act="Replace", back=home(row), revision=row
    )


@login_required
@permission_required(DRAFT_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def change_note(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what a draft changes, and why."""
    row = draft_or_refuse(pk)
    form = ChangeForm(request.POST or None, initial={"change": row.change, "based_on": row.content_sha256})
    if form.is_valid() and kept(request, form, row, row.content, form.cleaned_data["change"]):
        return redirect(home(row))
    return form_page(request, form, heading=f"What {row} changes", act="Keep", back=home(row), revision=row)


def draft_or_refuse(pk: int) -> Revision:
    """Find a draft; raises NoLongerDraft for a revision that was approved."""
    row = revision_or_404(pk)
    if row.approved_at is not None:
        raise NoLongerDraft(revision=str(row))
    return row


def changed(
    request: HttpRequest, form: forms.Form, row: Revision, stored: dict[str, Any], *, within: str = ""
) -> bool:
    """Keep a changed content; a refusal goes beside the field it is about."""
    return kept(request, form, row, json.dumps(stored, ensure_ascii=False), within=within)


def keep_at_once(
    request: HttpRequest, row: Revision, stored: dict[str, Any], part: str
) -> HttpResponseRedirect:
    """Keep a change that needs nothing of what is typed, a move or a removal; a refusal gets its own page."""
    change_draft(
        revision=row,
        content_text=json.dumps(stored, ensure_ascii=False),
        change=row.change,
        based_on_sha256=request.POST.get("based_on") or None,
        by=person(request),
        now=timezone.now(),
    )
    messages.success(request, f"{row} is changed.")
    return redirect(home(row, part))


def kept(
    request: HttpRequest,
    form: forms.Form,
    row: Revision,
    text: str,
    change: str | None = None,
    *,
    within: str = "",
) -> bool:
    """Keep a content text for a draft, and say whether it was kept."""
    given = {
        "content_text": text,
        "change": row.change if change is None else change,
        "based_on_sha256": form.cleaned_data["based_on"] or row.content_sha256,
    }
    try:
        change_draft(revision=row, **given, by=person(request), now=timezone.now())
    except LabError as refusal:
        if isinstance(refusal, PermissionError):
            raise
        attach_refusal(form, refusal, within=within)
        return False
    messages.success(request, f"{row} is changed.")
    return True
