"""The page of the arithmetic: asking it, the form of every kind of question, the run of the known answers."""

from __future__ import annotations

import json
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from labsys.journal.access import READ_RECORDS
from labsys.journal.door import Acting
from labsys.laboratory import validation
from labsys.laboratory.access import MANAGE_LABORATORY
from labsys.laboratory.answer_parts import facts, grids, text_of
from labsys.laboratory.forms.questions import QuestionForm
from labsys.laboratory.operations import record_validation
from labsys.laboratory.queries import last_validation
from labsys.metrology.questions.asking import KINDS, answer_file, form_of, parse_file
from labsys.pages.refusals import attempt


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_http_methods(["GET", "POST"])
def arithmetic(request: HttpRequest) -> HttpResponse:
    """Answer what was asked; ``kind`` in the address begins with an example of that kind."""
    kind = request.GET.get("kind", "")
    example = validation.example_of(kind) if kind in KINDS else ""
    form = QuestionForm(request.POST or None, request.FILES or None, initial={"question": example})
    answered = _answered(form) if form.is_valid() else None
    context = {
        "form": form,
        "answers": [_laid_out(one) for one in answered["answers"]] if answered else [],
        "as_file": answered and json.dumps(answered, ensure_ascii=False, indent=2),
        "forms": [(one, form_of(one)) for one in sorted(KINDS)],
        "kind": kind,
        "cases": validation.cases(),
        "last": last_validation(),
    }
    refused = form.is_bound and bool(form.errors)
    return render(request, "labsys/laboratory/arithmetic.html", context, status=422 if refused else 200)


def _answered(form: QuestionForm) -> dict[str, Any] | None:
    return attempt(form, lambda: answer_file(parse_file(form.cleaned_data["text"])))


def _laid_out(answer: dict[str, Any]) -> dict[str, Any]:
    """Lay one answer out: facts, tables, steps in words."""
    return {
        **answer,
        "facts": list(facts(answer["values"])),
        "grids": list(grids(answer["values"])),
        "steps": [(one["step"], text_of(one["gave"])) for one in answer["steps"]],
    }


@login_required
@permission_required(MANAGE_LABORATORY, raise_exception=True)
@require_POST
def validate(request: HttpRequest) -> HttpResponse:
    """Run every known answer and record what it came to."""
    found = validation.validate()
    record_validation(found=found, by=cast(Acting, request.user), now=timezone.now())
    if found.agrees:
        messages.success(request, f"All {found.values} values of {found.cases} cases were found as printed.")
    else:
        named = ", ".join(f"{one.case} ({one.quantity})" for one in found.differences[:5])
        messages.error(
            request,
            f"{len(found.differences)} of {found.values} values differ: {named}. Sign nothing before this is clear.",
        )
    return redirect("arithmetic")
