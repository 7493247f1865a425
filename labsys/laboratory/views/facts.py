"""Departments, places and families: one list each, adding, correcting with a reason."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.db.models import Model, QuerySet
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.http import require_GET, require_http_methods

from labsys.journal.access import READ_RECORDS
from labsys.journal.door import Acting
from labsys.laboratory import operations
from labsys.laboratory.access import MANAGE_LABORATORY
from labsys.laboratory.forms import facts as forms_of
from labsys.laboratory.models import Department, Family, Place
from labsys.pages import keyset
from labsys.pages.form_page import FormPage, Step
from labsys.pages.refusals import attempt
from labsys.pages.tables import Column, Row, Table, capped_count, order_from


@dataclass(frozen=True)
class Facts:
    """One kind of plain fact: how its list looks, which forms and acts it has."""

    one: str
    many: str
    slug: str
    lead: str
    model: type[Model]
    columns: tuple[Column, ...]
    cells: Callable[[Any], dict[str, Any]]
    add: Callable[..., Any]
    form: type[forms.Form]
    change: Callable[..., Any]
    change_form: type[forms.Form]
    data: type[Any]

    def rows(self) -> QuerySet[Any]:
        """Find all of them."""
        rows = self.model._default_manager.all()
        return rows.select_related("department") if self.model is Place else rows

    def path(self) -> tuple[Step, ...]:
        """Give the way to their list."""
        return (("Lab", reverse("lab")), (self.many, reverse(self.slug)))

    def given(self, form: forms.Form) -> dict[str, Any]:
        """Give what was typed as the adding act takes it."""
        given = dict(form.cleaned_data)
        if "default_interval_months" in given:
            given["interval_months"] = given.pop("default_interval_months")
        return given


def _department(row: Department) -> dict[str, Any]:
    return {"name": row.name, "code": row.code, "contact": row.contact}


def _place(row: Place) -> dict[str, Any]:
    return {
        "name": row.name,
        "department": row.department.name if row.department else "",
        "is_laboratory": "the laboratory" if row.is_laboratory else "",
    }


def _family(row: Family) -> dict[str, Any]:
    return {
        "name": row.name,
        "code": row.code,
        "bench_hours": row.bench_hours,
        "default_interval_months": row.default_interval_months,
        "quantity": row.quantity,
    }


KINDS: dict[str, Facts] = {
    "departments": Facts(
        one="department", many="Departments", slug="departments",
        lead="The parts of the plant that own gauges. In an in-house laboratory they are the customers.",
        model=Department, cells=_department,
        columns=(
            Column("name", "Name", sort=("name", "pk"), row_head=True),
            Column("code", "Code", sort=("code", "pk")),
            Column("contact", "Contact"),
        ),
        add=operations.add_department, form=forms_of.DepartmentForm,
        change=operations.change_department, change_form=forms_of.DepartmentChangeForm,
        data=operations.DepartmentData,
    ),
    "places": Facts(
        one="place", many="Places", slug="places",
        lead="Where gauges belong and where work is done.",
        model=Place, cells=_place,
        columns=(
            Column("name", "Name", sort=("name", "pk"), row_head=True),
            Column("department", "Department"),
            Column("is_laboratory", "Work is done here"),
        ),
        add=operations.add_place, form=forms_of.PlaceForm,
        change=operations.change_place, change_form=forms_of.PlaceChangeForm,
        data=operations.PlaceData,
    ),
    "families": Facts(
        one="family", many="Families", slug="families",
        lead="Families of gauges: what procedures, authorisations and agreements speak of.",
        model=Family, cells=_family,
        columns=(
            Column("name", "Name", sort=("name", "pk"), row_head=True),
            Column("code", "Code", sort=("code", "pk")),
            Column("bench_hours", "Bench hours", sort=("bench_hours", "pk"), number=True),
            Column("default_interval_months", "Interval to begin with (months)", number=True),
            Column("quantity", "Measures"),
        ),
        add=operations.add_family, form=forms_of.FamilyForm,
        change=operations.change_family, change_form=forms_of.FamilyChangeForm,
        data=operations.FamilyData,
    ),
}  # fmt: skip


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def listing(request: HttpRequest, kind: str) -> HttpResponse:
    """List the departments, places or families."""
    facts = KINDS[kind]
    order = order_from(request, facts.columns, default="name")
    page = keyset.page(facts.rows(), order=order.fields(facts.columns), token=request.GET.get("page", ""))
    may_change = request.user.has_perm(MANAGE_LABORATORY)
    rows = [Row(row.pk, _cells(facts, row, may_change), str(row)) for row in page.rows]
    context = {
        "facts": facts,
        "table": Table(facts.many, facts.columns, rows, order),
        "page": page,
        "count": capped_count(facts.rows()),
    }
    return render(request, "labsys/laboratory/facts.html", context)


def _cells(facts: Facts, row: Any, may_change: bool) -> dict[str, Any]:
    cells = facts.cells(row)
    if may_change:
        cells["name"] = format_html(
            '<a href="{}">{}</a>', reverse(f"{facts.slug}-change", args=[row.pk]), cells["name"]
        )
    return cells


@login_required
@permission_required(MANAGE_LABORATORY, raise_exception=True)
@require_http_methods(["GET", "POST"])
def add(request: HttpRequest, kind: str) -> HttpResponse:
    """Add a department, place or family."""
    facts = KINDS[kind]
    form = facts.form(request.POST or None)
    if form.is_valid():
        by, now = cast(Acting, request.user), timezone.now()
        made = attempt(form, facts.add, **facts.given(form), by=by, now=now)
        if made is not None:
            messages.success(request, f"{made} is added.")
            return redirect(facts.slug)
    return FormPage(heading=f"Add a {facts.one}", act="Add", path=facts.path()).show(request, form)


@login_required
@permission_required(MANAGE_LABORATORY, raise_exception=True)
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, kind: str, pk: int) -> HttpResponseBase:
    """Correct a department, place or family."""
    facts = KINDS[kind]
    row = get_object_or_404(facts.rows(), pk=pk)
    names = tuple(facts.data.__dataclass_fields__)
    form = facts.change_form(request.POST or None, initial={name: getattr(row, name) for name in names})
    if form.is_valid():
        given: dict[str, Any] = {
            facts.one: row,
            "data": facts.data(**{name: form.cleaned_data[name] for name in names}),
        }
        reason, by = form.cleaned_data["reason"], cast(Acting, request.user)
        changed = attempt(form, facts.change, **given, reason=reason, by=by, now=timezone.now())
        if changed is not None:
            messages.success(request, f"{changed} is corrected.")
            return redirect(facts.slug)
    return FormPage(heading=f"Correct {row}", act="Correct", path=facts.path()).show(request, form)
