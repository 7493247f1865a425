"""The page of a standard as of any day: whether it may be used, its elements with values and history, its states."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date
from labsys.metrology.units import Quantity, from_mm
from standards.register import marks, panels
from standards.register.access import KEEP_STANDARDS, MANAGE_STANDARDS
from standards.register.asking import person_behind
from standards.register.forms import OnForm
from standards.register.models import ElementValue, Standard, StandardState
from standards.register.operations.states import REACHABLE
from standards.register.queries import ElementAt, elements_at, state_of, usability


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
def standard(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a standard as of the day in the address, today where it names none."""
    row = get_object_or_404(Standard.objects.select_related("tag", "place"), pk=pk)
    now = timezone.now()
    asked = OnForm.of(request.GET, now)
    at, day = asked.instant(now), asked.day(now)
    found, state = usability(row, at), state_of(row, at)
    context = {
        "standard": row,
        "asked": asked,
        "day": day,
        "is_today": day == local_date(now),
        "usability": found,
        "mark": marks.of_usability(found),
        "state": StandardState.State(state).label if state else "not registered yet",
        "elements": [_element(one, day, row.quantity) for one in elements_at(row, at)],
        "calibrations": _calibrations(row, at),
        "states": row.states.filter(valid_from__lte=at).order_by("-valid_from", "-pk"),
        "panels": panels.panels_of(panels.Asked(row, at, person_behind(request))),
        **_acts(request, row, now),
    }
    return render(request, "standards/register/standard.html", context)


def _acts(request: HttpRequest, row: Standard, now: datetime) -> dict[str, bool]:
    """Say which acts the page offers to this person, in the state the standard is in now."""
    state = state_of(row, now)
    keeps = request.user.has_perm(KEEP_STANDARDS)
    returnable = (StandardState.State.AWAY, StandardState.State.OUT_OF_SERVICE)
    return {
        "may_manage": request.user.has_perm(MANAGE_STANDARDS),
        "may_keep": keeps,
        "may_change_state": keeps and bool(REACHABLE.get(state)),
        "may_return": keeps and state in returnable,
    }


def _calibrations(row: Standard, at: datetime) -> list[dict[str, Any]]:
    known = row.calibrations.filter(recorded_at__lte=at).order_by("-calibrated_on", "-pk")
    return [{"row": calibration, "mark": marks.of_review(calibration)} for calibration in known]


def _element(one: ElementAt, day: date, quantity: Quantity) -> dict[str, Any]:
    """Prepare a line: values in µm or ″ as certificates state them, with what a person must not overlook."""
    value = one.value
    return {
        "element": one.element,
        "in_use": one.in_use,
        "functions": ", ".join(one.element.functions).replace("_", " "),
        "unit": quantity.base,
        "value": _value(value, quantity) if value else None,
        "is_overdue": value is not None and value.calibration.due_on < day,
        "history": [_value(old, quantity) for old in one.history[1:]],
    }


def _value(value: ElementValue, quantity: Quantity) -> dict[str, Any]:
    fine = quantity.fine
    return {
        "fine": fine,
        "deviation": from_mm(value.deviation_mm, fine),
        "U": None if value.U_mm is None else from_mm(value.U_mm, fine),
        "limit": None if value.limit_mm is None else from_mm(value.limit_mm, fine),
        "k": value.k,
        "calibration": value.calibration,
    }
