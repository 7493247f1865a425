"""The page of one gauge: its standing on top, who it is, and what every topic knows of it, now or as of a day."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from instruments.desk.queries import panels, standing_at
from instruments.desk.views.entries import lines
from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.forms.gauges import StateForm
from instruments.inventory.models import Gauge, GaugeState
from instruments.inventory.queries import description_at, state_of
from instruments.inventory.views.frame import as_of, form_page, gauge_or_404, home, person
from instruments.recall.operations import change_state
from labsys.journal.access import READ_JOURNAL, READ_RECORDS
from labsys.journal.queries import about
from labsys.laboratory.as_of import AsOf
from labsys.pages.refusals import attempt

ENTRIES = 30


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def gauge(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a gauge, now or as of the day that ``on`` names in the address."""
    found, shown_of = gauge_or_404(pk), as_of(request)
    description = description_at(found, shown_of.at)
    context: dict[str, Any] = {
        "gauge": found,
        "as_of": shown_of,
        "is_now": shown_of.day is None,
        "description": description,
    }
    if description is not None:
        context |= _known(found, shown_of, description)
    if person(request).may(READ_JOURNAL):
        context["entries"] = lines(about(f"gauge:{pk}").filter(at__lte=shown_of.at)[:ENTRIES])
    return render(request, "instruments/desk/gauge.html", context)


def _known(found: Gauge, shown_of: AsOf, description: dict[str, Any]) -> dict[str, Any]:
    state = state_of(found, shown_of.at)
    return {
        "standing": standing_at(found, shown_of.at),
        "state": GaugeState.State(state).label if state else "",
        "owner": Gauge.Owner(description["owner"]).label,
        "functions": [name.replace("_", " ") for name in description["functions"]],
        "panels": panels(found, shown_of.at),
    }


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def state(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a gauge into another service state."""
    found, now = gauge_or_404(pk), timezone.now()
    form = StateForm(request.POST or None, state_now=state_of(found, now))
    if form.is_valid():
        changed = attempt(form, change_state, gauge=found, **form.cleaned_data, by=person(request), now=now)
        if changed is not None:
            messages.success(request, f"{found} is “{changed.get_state_display()}” from now on.")
            return redirect(home(found))
    heading = f"Change the state of {found}"
    return form_page(request, form, heading=heading, act="Change the state", back=home(found), gauge=found)
