"""One session to read, for everybody who may read records, and what a reviewer decides about it besides signing."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from instruments.measuring.access import REVIEW
from instruments.measuring.forms import DeviationForm, ReasonForm, StrikeForm
from instruments.measuring.leading import leads_of
from instruments.measuring.models import Reading, Session, Submission
from instruments.measuring.open_items import open_items
from instruments.measuring.operations import accept_deviation, return_submission, strike_for_review
from instruments.measuring.showing.observed import observed_of
from instruments.measuring.showing.results import stages_of
from instruments.measuring.showing.summary import ground_shown, stages
from instruments.measuring.views.frame import form_page, person, session_or_404, takes_readings
from labsys.journal.access import READ_RECORDS
from labsys.pages.refusals import attempt


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def record(request: HttpRequest, pk: int) -> HttpResponse:
    """Show everything observed in a session, struck readings too, and what was decided about it."""
    found = session_or_404(pk)
    return render(request, "instruments/measuring/session.html", _everything(found))


def _everything(found: Session) -> dict[str, Any]:
    is_open, newest = takes_readings(found), found.submissions.first()
    items = open_items(found) if is_open else ()
    return {
        **ground_shown(found),
        **observed_of(found),
        "session": found,
        "stages": stages(found),
        "newest": newest,
        "shown": stages_of(newest) if newest else (),
        "is_open": is_open,
        "leads": leads_of(found),
        "open_items": items,
        "deviable": any(item.deviable for item in items),
        "waiting": newest if found.state == Session.State.SUBMITTED else None,
    }


@login_required
@permission_required(REVIEW, raise_exception=True)
@require_http_methods(["GET", "POST"])
def give_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Return a submission to the bench with a reason."""
    submission = get_object_or_404(Submission.objects.select_related("session"), pk=pk)
    found = session_or_404(submission.session_id)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        done = attempt(
            form,
            return_submission,
            submission=submission,
            reason=reason,
            by=person(request),
            now=timezone.now(),
        )
        if done is not None:
            messages.success(request, f"Session {found.pk} is given back. The bench sees your reason.")
            return redirect("review")
    return _page(request, form, found, heading=f"Give session {found.pk} back", act="Give it back")


@login_required
@permission_required(REVIEW, raise_exception=True)
@require_http_methods(["GET", "POST"])
def deviate(request: HttpRequest, pk: int) -> HttpResponse:
    """Accept that a rule stays open, with a reason and the owner's consent where it was asked for."""
    found = session_or_404(pk)
    rules = [(item.code, item.sentence) for item in open_items(found) if item.deviable]
    form = DeviationForm(request.POST or None, rules=rules)
    if form.is_valid():
        done = attempt(
            form, accept_deviation, session=found, **form.cleaned_data, by=person(request), now=timezone.now()
        )
        if done is not None:
            messages.success(request, "Accepted. It stands in the record and on the certificate.")
            return redirect("session", found.pk)
    return _page(request, form, found, heading="Accept a deviation", act="Accept it")


@login_required
@permission_required(REVIEW, raise_exception=True)
@require_http_methods(["GET", "POST"])
def strike(request: HttpRequest, pk: int) -> HttpResponse:
    """Strike a reading that is out of tolerance; the bench can't."""
    reading = get_object_or_404(Reading.objects.select_related("point__run__session"), pk=pk)
    found = session_or_404(reading.point.run.session_id)
    form = StrikeForm(request.POST or None)
    if form.is_valid():
        done = attempt(
            form,
            strike_for_review,
            reading=reading,
            **form.cleaned_data,
            by=person(request),
            now=timezone.now(),
        )
        if done is not None:
            messages.success(request, f"{reading} is struck. It stays visible with your reason.")
            return redirect("session", found.pk)
    return _page(request, form, found, heading=f"Strike {reading} at {reading.point}", act="Strike it")


def _page(request: HttpRequest, form: forms.Form, found: Session, **words: Any) -> HttpResponse:
    return form_page(request, form, session=found, back=reverse("session", args=[found.pk]), **words)
