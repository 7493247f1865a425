"""The page on which a certificate comes in: its data, its file, and the values of the elements."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from labsys.errors import LabError
from labsys.metrology.units import Unit
from labsys.pages import refusals
from standards.register.access import KEEP_STANDARDS
from standards.register.asking import person_behind
from standards.register.models import Element, Standard
from standards.register.operations import ValueData, ValueRefused
from standards.register.queries import (
    StandardNotReviewed,
    StandardOutOfService,
    StandardOverdue,
    elements_at,
)
from standards.traceability import operations, pending, sheet
from standards.traceability.forms.certificates import CertificateForm
from standards.traceability.forms.values import LinesForm, ValueForm, value_forms, value_forms_filled
from standards.traceability.models import CertificateReceived
from standards.traceability.sheet import Line

ABOVE = (StandardNotReviewed, StandardOutOfService, StandardOverdue)


@dataclass
class Page:
    """What the page consists of while it is filled in."""

    standard: Standard
    form: CertificateForm
    lines: LinesForm
    values: list[ValueForm]

    def values_given(self) -> tuple[ValueData, ...]:
        """Give the values of the lines that were filled in, in mm."""
        unit, k = Unit(self.form.cleaned_data["unit"]), Decimal(self.form.cleaned_data["k"])
        found = (line.value(unit, k) for line in self.values)
        return tuple(value for value in found if value is not None)

    def is_valid(self) -> bool:
        """Validate everything at once, so that every sentence is there the first time."""
        return all([self.form.is_valid(), *(line.is_valid() for line in self.values)])


@login_required
@permission_required(KEEP_STANDARDS, raise_exception=True)
def receive(request: HttpRequest, pk: int) -> HttpResponse:
    """Receive a certificate, or read pasted lines into the fields; nothing is stored until everything fits."""
    standard = get_object_or_404(Standard.objects.select_related("tag"), pk=pk)
    elements = [one.element for one in elements_at(standard, timezone.now()) if one.in_use]
    if request.method == "POST" and "read_lines" in request.POST:
        return _read_lines(request, standard, elements)
    page = _page(request, standard, elements, request.POST if request.method == "POST" else None)
    if request.method == "POST" and page.is_valid():
        row = _receive(request, page)
        if row is not None:
            pending.discard(page.form.data.get("kept", ""))
            messages.success(
                request, f"Certificate {row.number} is on file. Its values can be used once it is reviewed."
            )
            return redirect("certificate-received", pk=row.pk)
    return _show(request, page)


def _page(request: HttpRequest, standard: Standard, elements: list[Element], sent: QueryDict | None) -> Page:
    person = person_behind(request)
    files = request.FILES if sent is not None else None
    return Page(
        standard,
        CertificateForm(sent, files, standard=standard, person=person),
        LinesForm(sent, files),
        value_forms(elements, sent),
    )


def _read_lines(request: HttpRequest, standard: Standard, elements: list[Element]) -> HttpResponse:
    """Fill the fields from the lines; the rest of the form stays as it was typed and isn't judged yet."""
    typed = CertificateForm.as_typed(
        request.POST, request.FILES, standard=standard, person=person_behind(request)
    )
    units = standard.quantity.units
    unit = Unit(request.POST["unit"]) if request.POST.get("unit") in units else standard.quantity.fine
    lines, found = LinesForm(request.POST, request.FILES), list[Line]()
    if lines.is_valid():
        found = refusals.attempt(lines, sheet.read, lines.text(), elements) or []
    if not lines.errors:
        said = f"{len(found)} lines were read into the fields. Nothing is stored yet: compare them first."
        messages.info(request, said)
        lines = LinesForm()
    values = value_forms_filled(elements, request.POST, found, unit)
    return _show(request, Page(standard, typed, lines, values), status=422 if lines.errors else 200)


def _receive(request: HttpRequest, page: Page) -> CertificateReceived | None:
    try:
        return operations.receive_certificate(
            standard=page.standard,
            data=page.form.data_given(),
            values=page.values_given(),
            file=page.form.received,
            relies_on=page.form.upstream,
            by=person_behind(request),
            now=timezone.now(),
        )
    except ValueRefused as refusal:
        _blame_line(page, refusal)
    except ABOVE as refusal:
        page.form.add_error("relies_on", str(refusal))
    except ValidationError as problem:
        page.form.add_error(None, problem.messages)
    except LabError as refusal:
        if isinstance(refusal, PermissionError):
            raise
        refusals.attach(page.form, refusal)
    return None


def _blame_line(page: Page, refusal: ValueRefused) -> None:
    for line in page.values:
        if line.element.label == refusal.data["label"]:
            line.blame(refusal)
            return
    refusals.attach(page.form, refusal)


def _show(request: HttpRequest, page: Page, *, status: int | None = None) -> HttpResponse:
    context = {
        "standard": page.standard,
        "page": page,
        "kept": page.form.received.name if page.form.received else "",
        "wrong": [line for line in page.values if line.is_bound and not line.is_valid()],
    }
    found = status or (422 if page.form.is_bound else 200)
    return render(request, "standards/traceability/receive.html", context, status=found)
