"""The list of certificates: filtered, sorted and paged by its address, and given as a file of exactly what is shown."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.views.decorators.http import require_GET

from instruments.certificates.filters import CertificateFilter
from instruments.certificates.models import Certificate
from instruments.certificates.queries import certificates, unconfirmed_series
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date
from labsys.pages.listing import Listing
from labsys.pages.tables import Column

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
    return LISTING.answer(request, filters, unconfirmed=unconfirmed_series().exists())


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


def _links(certificate: Certificate) -> dict[str, str]:
    return {
        "number": reverse("certificate", args=[certificate.pk]),
        "gauge": reverse("gauge", args=[certificate.session.gauge_id]),
    }


LISTING = Listing(
    name="certificates",
    title="Certificates",
    template="instruments/certificates/certificates.html",
    columns=COLUMNS,
    default="-signed",
    cells=cells,
    links=_links,
    label=lambda certificate: str(certificate.number),
)
