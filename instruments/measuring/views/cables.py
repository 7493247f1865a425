"""The trial of a cable: the reading of the closed jaws is sent into a field, and what came is said in words."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.measuring.access import MEASURE
from instruments.measuring.cable import Sent, findings
from instruments.measuring.entry_forms import CableForm
from instruments.measuring.models.cables import CableCheck
from instruments.measuring.operations import check_cable
from instruments.measuring.showing.labels import scanned
from instruments.measuring.views.frame import person


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def cable(request: HttpRequest) -> HttpResponse:
    """Take what a cable sends, and say what is right with it and what has to be set."""
    form = CableForm(request.POST or None)
    context: dict[str, object] = {"form": CableForm()}
    if form.is_valid():
        given = form.cleaned_data
        scan = scanned(given["sent"])
        if scan is not None:
            context["scan"] = scan
        else:
            sent = Sent(given["sent"], given["ended"] or CableCheck.Ended.UNSEEN.value, given["stroke_ms"])
            row = check_cable(device=given["device"], sent=sent, by=person(request), now=timezone.now())
            context |= {"row": row, "findings": findings(sent)}
    else:
        context["form"] = form
    return render(request, "instruments/measuring/bench/cable.html", context)
