"""Pages of models: the list, one model with its limits and their history, registering and correcting."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.http import require_GET, require_http_methods

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.filters import ModelFilter
from instruments.inventory.forms.models import ModelChangeForm, ModelForm
from instruments.inventory.models import GaugeModel
from instruments.inventory.operations import change_model, register_model
from instruments.inventory.queries.limits import limits_of_model, plain, range_words, shown
from instruments.inventory.views.frame import form_page, person
from labsys.journal.access import READ_RECORDS
from labsys.pages import keyset
from labsys.pages.figures import NARROW_GAP, with_unit
from labsys.pages.refusals import attempt
from labsys.pages.tables import Column, Row, Table, capped_count, order_from

COLUMNS = (
    Column("name", "Model", sort=("maker", "designation", "pk"), row_head=True),
    Column("family", "Family", sort=("family__name", "pk")),
    Column("indication", "Indication", sort=("indication", "pk")),
    Column("resolution", "Resolution", number=True, nowrap=True),
    Column("range", "Range (mm, or °)", sort=("range_high_mm", "pk"), number=True, nowrap=True),
    Column("functions", "Functions"),
)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def models(request: HttpRequest) -> HttpResponse:
    """List the models."""
    rows = GaugeModel.objects.select_related("family")
    filters = ModelFilter(request.GET, queryset=rows)
    found = filters.qs if filters.is_valid() else rows.none()
    order = order_from(request, COLUMNS, default="name")
    page = keyset.page(found, order=order.fields(COLUMNS), token=request.GET.get("page", ""))
    shown = [Row(model.pk, _cells(model), str(model)) for model in page.rows]
    context = {
        "filters": filters,
        "table": Table("Models", COLUMNS, shown, order),
        "page": page,
        "count": capped_count(found),
    }
    return render(request, "instruments/inventory/models.html", context)


def _cells(model: GaugeModel) -> dict[str, Any]:
    address = reverse("gauge-model", args=[model.pk])
    return {
        "name": format_html('<a href="{}">{}</a>', address, model),
        "family": model.family.name,
        "indication": model.get_indication_display(),
        "resolution": with_unit(plain(model.resolution), model.unit).replace(NARROW_GAP, " "),
        "range": range_words(model),
        "functions": ", ".join(function.replace("_", " ") for function in model.functions),
    }


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def model(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a model with its limits and the sets of limits it had."""
    found = get_object_or_404(GaugeModel.objects.select_related("family"), pk=pk)
    limits = limits_of_model(found, timezone.now())
    context = {
        "model": found,
        "functions": [function.replace("_", " ") for function in found.functions],
        "limits": limits,
        "limit_rows": shown(limits, found.quantity),
        "sets": found.limit_sets.order_by("-valid_from", "-recorded_at", "-pk"),
        "gauges": capped_count(found.gauges.all()),
    }
    return render(request, "instruments/inventory/model.html", context)


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def register(request: HttpRequest) -> HttpResponse:
    """Register a model."""
    form = ModelForm(request.POST or None)
    if form.is_valid():
        made = attempt(form, register_model, data=form.data_given(), by=person(request), now=timezone.now())
        if made is not None:
            messages.success(request, f"{made} is registered. Set its limits next.")
            return redirect("gauge-model", made.pk)
    return form_page(
        request,
        form,
        heading="Register a model",
        act="Register",
        back=reverse("gauge-models"),
        models_path=True,
    )


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct what is written about a model."""
    found = get_object_or_404(GaugeModel.objects.select_related("family"), pk=pk)
    form = ModelChangeForm.of(found, request.POST or None)
    if form.is_valid():
        data, reason = form.data_given(), form.cleaned_data["reason"]
        by, now = person(request), timezone.now()
        changed = attempt(form, change_model, model=found, data=data, reason=reason, by=by, now=now)
        if changed is not None:
            messages.success(request, f"{changed} is corrected. Results that stand keep their values.")
            return redirect("gauge-model", pk)
    back = reverse("gauge-model", args=[pk])
    return form_page(request, form, heading=f"Correct {found}", act="Correct", back=back, model=found)
