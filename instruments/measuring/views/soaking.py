"""The time in which the gauge takes the room's temperature: since when it lies there, and why it isn't waited for."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.measuring.access import MEASURE
from instruments.measuring.entry_forms import EarlyForm, LaidForm
from instruments.measuring.operations import go_on_early, note_laid
from instruments.measuring.showing.steps import Step
from instruments.measuring.views.frame import form_page, home, person, session_or_404
from labsys.laboratory.queries import zone
from labsys.pages.refusals import attempt

ROOM = f"step={Step.ROOM.value}"


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def laid(request: HttpRequest, pk: int) -> HttpResponse:
    """Note since when the gauge lies beside the standards."""
    found, now = session_or_404(pk), timezone.now()
    form = LaidForm(request.POST or None, initial={"since": now.astimezone(zone()).replace(tzinfo=None)})
    if form.is_valid():
        since = form.cleaned_data["since"]
        if attempt(form, note_laid, session=found, since=since, by=person(request), now=now) is not None:
            messages.success(request, "Noted. The time in the room counts from then.")
            return redirect(home(found, ROOM))
    heading = f"{found.gauge} beside the standards"
    return form_page(request, form, session=found, heading=heading, act="Note it", back=home(found, ROOM))


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def early(request: HttpRequest, pk: int) -> HttpResponse:
    """Go on before the time is up, with the reason."""
    found, now = session_or_404(pk), timezone.now()
    form = EarlyForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        if attempt(form, go_on_early, session=found, reason=reason, by=person(request), now=now) is not None:
            messages.warning(request, "Noted with your reason. The reviewer accepts it, or doesn't.")
            return redirect(home(found))
    heading = "Go on before the time is up"
    return form_page(request, form, session=found, heading=heading, act="Go on", back=home(found, ROOM))
