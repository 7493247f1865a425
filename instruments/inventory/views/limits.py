"""The pages on which lines of limits are written, for a model or for one gauge."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.inventory.access import SET_LIMITS
from instruments.inventory.forms.gauges import ReasonForm
from instruments.inventory.forms.models import LimitRows, LimitsForm, lines_given, say_quantity
from instruments.inventory.models import GaugeModel
from instruments.inventory.operations import LimitsData, set_limits, withdraw_limits
from instruments.inventory.queries import LimitsInForce, limits_for
from instruments.inventory.queries.limits import limits_of_model
from instruments.inventory.views.frame import form_page, gauge_or_404, home, person
from labsys.laboratory.queries import local_date
from labsys.pages.figures import limit_rows
from labsys.pages.refusals import attempt


@login_required
@permission_required(SET_LIMITS, raise_exception=True)
@require_http_methods(["GET", "POST"])
def of_model(request: HttpRequest, pk: int) -> HttpResponse:
    """Set the limits of a model."""
    model = get_object_or_404(GaugeModel.objects.select_related("family"), pk=pk)
    held = limits_of_model(model, timezone.now())
    heading, back = f"Limits of {model}", reverse("gauge-model", args=[pk])
    return _editor(request, held, {"model": model}, heading=heading, back=back)


@login_required
@permission_required(SET_LIMITS, raise_exception=True)
@require_http_methods(["GET", "POST"])
def of_gauge(request: HttpRequest, pk: int) -> HttpResponse:
    """Set limits for one gauge, which then hold instead of its model's."""
    gauge = gauge_or_404(pk)
    held = limits_for(gauge, timezone.now())
    heading = f"Own limits of {gauge}"
    return _editor(request, held, {"gauge": gauge}, heading=heading, back=home(gauge))


@login_required
@permission_required(SET_LIMITS, raise_exception=True)
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Give up a gauge's own limits."""
    gauge = gauge_or_404(pk)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        if attempt(form, withdraw_limits, gauge=gauge, reason=reason, by=person(request), now=timezone.now()):
            messages.success(request, f"The limits of {gauge.model} hold for {gauge} again.")
            return redirect(home(gauge))
    heading = f"Give up the own limits of {gauge}"
    return form_page(request, form, heading=heading, act="Give up", back=home(gauge), gauge=gauge)


def _editor(
    request: HttpRequest, held: LimitsInForce | None, target: dict[str, Any], *, heading: str, back: str
) -> HttpResponse:
    now = timezone.now()
    initial = {"source": held.source if held else "", "valid_from": local_date(now)}
    form = LimitsForm(request.POST or None, initial=initial)
    quantity = _quantity(target)
    rows = limit_rows(held.rows, quantity) if held else []
    lines = say_quantity(LimitRows(request.POST or None, initial=rows, prefix="rows"), quantity)
    # "More lines" sends what is typed and gets it back with empty lines below; nothing is stored.
    if "more" in request.POST:
        lines = say_quantity(_longer(lines), quantity)
    elif request.POST and form.is_valid() and lines.is_valid() and _set(request, form, lines, target):
        messages.success(request, f"{heading} are set. The lines before stay on record.")
        return redirect(back)
    more = {
        **target,
        "lines": lines,
        "quantity": quantity,
        "template": "instruments/inventory/limits_form.html",
    }
    return form_page(request, form, heading=heading, act="Set the limits", back=back, **more)


def _quantity(target: dict[str, Any]) -> str:
    """Say what the gauges are for whose limits are set: lengths or angles."""
    made = target["model"] if "model" in target else target["gauge"].model
    return str(made.quantity)


def _set(request: HttpRequest, form: LimitsForm, lines: Any, target: dict[str, Any]) -> bool:
    now = timezone.now()
    given = form.cleaned_data
    data = LimitsData(lines_given(lines), given["source"], given["confirmed"], given["reason"])
    start = form.instant(now, local_date(now))
    by = person(request)
    return attempt(form, set_limits, **target, data=data, valid_from=start, by=by, now=now) is not None


def _longer(lines: Any) -> Any:
    """Give the lines back as typed, with empty ones below."""
    lines.is_valid()
    typed = [form.cleaned_data for form in lines if getattr(form, "cleaned_data", None)]
    return LimitRows(initial=[row for row in typed if any(row.values())], prefix="rows")
