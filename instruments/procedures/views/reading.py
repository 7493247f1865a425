"""Pages on which procedures are read: the list, one procedure, a revision as a document, two side by side, the file."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required, permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from instruments.procedures.access import APPROVE_PROCEDURES, DRAFT_PROCEDURES
from instruments.procedures.content import laid_out
from instruments.procedures.document import differences, document
from instruments.procedures.document.comparisons import comparison_table
from instruments.procedures.document.trials import trial_rows
from instruments.procedures.models import Revision
from instruments.procedures.queries import (
    content_of,
    draft_of,
    numbered,
    predecessor,
    procedures,
    revisions,
    state_words,
)
from instruments.procedures.trial import try_out
from instruments.procedures.validating import validation_of
from instruments.procedures.views.frame import person, procedure_or_404, revision_or_404
from labsys.journal.access import READ_RECORDS


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def listing(request: HttpRequest) -> HttpResponse:
    """List the procedures with what is in force and what is being drafted."""
    now = timezone.now()
    rows = [
        {
            "procedure": procedure,
            "in_force": next((one for one in found if state_words(one, now) == "in force"), None),
            "draft": next((one for one in found if one.approved_at is None), None),
        }
        for procedure in procedures()
        for found in (list(procedure.revisions.all()),)
    ]
    may_draft = person(request).may(DRAFT_PROCEDURES)
    return render(request, "instruments/procedures/procedures.html", {"rows": rows, "may_draft": may_draft})


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def procedure(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a procedure with its revisions."""
    row, now = procedure_or_404(pk), timezone.now()
    found = [
        (one, state_words(one, now))
        for one in revisions().filter(procedure=row).defer("content", "comparison")
    ]
    may_draft = person(request).may(DRAFT_PROCEDURES) and draft_of(row) is None
    context = {"procedure": row, "revisions": found, "may_draft": may_draft}
    return render(request, "instruments/procedures/procedure.html", context)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def revision(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a revision as a document; a draft with the links to change it."""
    row, now, who = revision_or_404(pk), timezone.now(), person(request)
    content, state = content_of(row), state_words(row, now)
    context = {
        "revision": row,
        "state": state,
        "parts": document(content),
        "crumb": f"Revision {row.number}",
        "trials": trial_rows(try_out(content, row.procedure.family, now)) if state != "retired" else [],
        "comparison": comparison_table(row.comparison),
        "validation": validation_of(row),
        "before": predecessor(row),
        "may_change": state == "draft" and who.may(DRAFT_PROCEDURES),
        "may_approve": state == "draft" and who.may(APPROVE_PROCEDURES),
        "may_retire": state == "in force" and who.may(APPROVE_PROCEDURES),
    }
    return render(request, "instruments/procedures/revision.html", context)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def difference(request: HttpRequest, pk: int) -> HttpResponse:
    """Lay a revision beside the one before it, or beside another one of the same procedure (``?with=1``)."""
    row = revision_or_404(pk)
    before = _compared_with(row, request.GET.get("with", ""))
    parts = differences(document(content_of(before)), document(content_of(row)))
    whole = "all" in request.GET
    shown = [(part.title, part.entries if whole else part.changes) for part in parts]
    context = {
        "revision": row,
        "before": before,
        "parts": [(title, entries) for title, entries in shown if entries],
        "count": sum(len(part.changes) for part in parts),
        "whole": whole,
    }
    return render(request, "instruments/procedures/difference.html", context)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def file(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a revision's content as a file that can be read, kept and drafted from."""
    row = revision_or_404(pk)
    response = HttpResponse(laid_out(content_of(row)), content_type="application/json")
    name = f"{row.procedure.code}-revision-{row.number}.json"
    response.headers["Content-Disposition"] = f'attachment; filename="{_plain_name(name)}"'
    return response


def _compared_with(row: Revision, asked: str) -> Revision:
    found = numbered(row.procedure, int(asked)) if asked.isdecimal() and len(asked) < 6 else predecessor(row)
    if found is None:
        raise Http404("there is no other revision to compare with")
    return found


def _plain_name(name: str) -> str:
    return "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-._") else "-" for sign in name)
