"""Pages on which a revision is approved by signing in again, and taken out of force."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from instruments.procedures.access import APPROVE_PROCEDURES
from instruments.procedures.document.comparisons import comparison_table
from instruments.procedures.document.trials import trial_rows
from instruments.procedures.forms.acts import ApproveForm, RetireForm
from instruments.procedures.forms.faults import attach_refusal
from instruments.procedures.models import Revision
from instruments.procedures.operations import approve_revision, retire_revision
from instruments.procedures.queries import content_of, predecessor
from instruments.procedures.simulated import simulate_trials
from instruments.procedures.trial import try_out
from instruments.procedures.validating import validation_of
from instruments.procedures.views.drafting import draft_or_refuse
from instruments.procedures.views.frame import form_page, home, person, revision_or_404
from labsys.accounts.operations import sign_in_again
from labsys.errors import LabError
from labsys.pages.refusals import attempt


@sensitive_post_parameters("password")
@login_required
@permission_required(APPROVE_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def approve(request: HttpRequest, pk: int) -> HttpResponse:
    """Approve a draft: what is signed is shown, then the password is asked for."""
    row = draft_or_refuse(pk)
    content, family = content_of(row), row.procedure.family
    trials = try_out(content, family, timezone.now())
    # Before anything is locked: the signature finds the draws done.
    compared = simulate_trials(content, row.content_sha256, trials)
    form = ApproveForm(request.POST or None, initial={"seen_sha256": row.content_sha256})
    if form.is_valid() and _approved(request, form, row):
        messages.success(request, f"{row} is approved and in force from now on.")
        return redirect(home(row))
    context = {
        "revision": row,
        "heading": f"Approve {row}",
        "before": predecessor(row),
        "trials": trial_rows(trials),
        "comparison": comparison_table(compared),
        "validation": validation_of(row),
        "is_own": person(request).as_actor().id in row.authors,
        "back": home(row),
        "template": "instruments/procedures/approve.html",
    }
    return form_page(request, form, **context)


@login_required
@permission_required(APPROVE_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def retire(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a revision out of force."""
    row = revision_or_404(pk)
    form = RetireForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        done = attempt(
            form, retire_revision, revision=row, reason=reason, by=person(request), now=timezone.now()
        )
        if done is not None:
            messages.success(
                request, f"{row} is retired. No gauge of its family is calibrated by it any more."
            )
            return redirect(home(row))
    context = {
        "heading": f"Retire {row}",
        "act": "Retire",
        "is_stop": True,
        "back": home(row),
        "revision": row,
    }
    return form_page(request, form, **context)


def _approved(request: HttpRequest, form: ApproveForm, row: Revision) -> bool:
    """Sign in again and approve; every refusal stays on the page, the password's beside its field."""
    who, now, given = person(request), timezone.now(), form.cleaned_data
    try:
        proof = sign_in_again(person=who, password=given["password"], now=now)
        approve_revision(revision=row, seen_sha256=given["seen_sha256"], proof=proof, by=who, now=now)
    except LabError as refusal:
        attach_refusal(form, refusal)
        return False
    return True
