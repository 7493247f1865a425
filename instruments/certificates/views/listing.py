"""The list of certificates: filtered, sorted and paged by its address, and given as a file of exactly what is shown."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.db.models import QuerySet
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.html import format_html
from django.views.decorators.http import require_GET

from instruments.certificates.filters import CertificateFilter
from instruments.certificates.models import Certificate
from instruments.certificates.queries import certificates, unconfirmed_series
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date
from labsys.pages import export, keyset
from labsys.pages.tables import Column, Row, Table, capped_count, order_from

COLUMNS = (
    Column("number", "Number", sort=("number",), row_head=True, nowrap=True),
    Column("gauge", "Gauge", sort=("session__gauge__tag__text", "pk"), nowrap=True),
    Column("family", "Family"),
    Column("department", "Department"),
    Column("signed", "Signed on", sort=("numbered_at", "pk"), nowrap=True),
    Column("state", "State"),
)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def certificates_page(request: HttpRequest) -> HttpResponseBase:
    """List the certificates the address asks for; with ``as`` give them as a file."""
    filters = CertificateFilter(request.GET, queryset=certificates())
    found = filters.qs if filters.is_valid() else certificates().none()
    order = order_from(request, COLUMNS, default="-signed")
    fields = order.fields(COLUMNS)
    if request.GET.get("as"):
        headings = [column.title for column in COLUMNS]
        return export.answer(
            "certificates", headings=headings, rows=_lines(found.order_by(*fields)), kind=request.GET["as"]
        )
    page = keyset.page(found, order=fields, token=request.GET.get("page", ""))
    context = {
        "filters": filters,
        "table": Table("Certificates", COLUMNS, [_row(one) for one in page.rows], order),
        "page": page,
        "count": capped_count(found),
        "unconfirmed": unconfirmed_series().exists(),
    }
    return render(request, "instruments/certificates/certificates.html", context)


def cells(certificate: Certificate) -> dict[str, Any]:
    """Give what each column says of a certificate."""
    gauge = certificate.session.gauge
    return {
        "number": certificate.number,
        "gauge": gauge.tag.text,
        "family": gauge.model.family.name,
        "department": gauge.department.name,
        "signed": local_date(certificate.numbered_at).isoformat(),
        "state": certificate.get_state_display(),
    }


def _row(certificate: Certificate) -> Row:
    shown = cells(certificate)
    links = {
        "number": reverse("certificate", args=[certificate.pk]),
        "gauge": reverse("gauge", args=[certificate.session.gauge_id]),
    }
    for key, address in links.items():
        shown[key] = format_html('<a href="{}">{}</a>', address, shown[key])
    return Row(certificate.pk, shown, certificate.number)


def _lines(found: QuerySet[Certificate]) -> Iterator[list[Any]]:
    for certificate in found.iterator(chunk_size=2000):
        shown = cells(certificate)
        yield [shown[column.key] for column in COLUMNS]
