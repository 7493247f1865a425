"""One certificate: what it says, whether its file is still the one issued, the chain of every standard it stands on."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from instruments.certificates.chains import chains_of
from instruments.certificates.models import Certificate
from instruments.certificates.printing.sheet import tables
from instruments.certificates.queries import document_of, file_fault, file_name, state_at, stored_file
from instruments.certificates.views.frame import certificate_or_404
from instruments.certificates.work import link_of
from instruments.inventory.views.frame import as_of
from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS
from standards.traceability.queries.chain import Node


class FileNotServed(LabError):
    """Never give out a file that isn't the one that was issued."""

    code = "file-not-served"
    sentence = "The file of certificate {number} can't be given. {why}"


@dataclass(frozen=True)
class Ground:
    """A standard as the page shows it: the chain of the calibration that was used, and whether it holds."""

    node: Node

    @property
    def faults(self) -> list[str]:
        """Give what blocks the chain, as sentences."""
        found = [fault for node in self.node.walk() for fault in node.own_faults if fault.level == "block"]
        return list(dict.fromkeys(fault.sentence for fault in found))


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def certificate(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a certificate with the chains it stands on; its state now or as of the day ``on`` names in the address."""
    row, shown_of = certificate_or_404(pk), as_of(request)
    document = document_of(row)
    context = {
        "certificate": row,
        "d": document,
        "as_of": shown_of,
        "is_now": shown_of.day is None,
        "state": state_at(row, shown_of.at),
        "fault": file_fault(row),
        "tables": tables(document),
        "work": link_of(row.session),
        "grounds": [Ground(node) for node in chains_of(row.session)],
    }
    return render(request, "instruments/certificates/page.html", context)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the exact bytes that were issued; raises FileNotServed where they aren't there any more."""
    row = certificate_or_404(pk)
    if fault := file_fault(row):
        raise FileNotServed(number=row.number, why=fault, subject=f"certificate:{row.pk}")
    return _file(row, stored_file(row), "application/pdf", "pdf")


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def data(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the signed document as data, the same text that is attached to the file."""
    row = certificate_or_404(pk)
    document_of(row)
    return _file(row, row.document.encode(), "application/json", "json")


def _file(row: Certificate, content: bytes, kind: str, ending: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = f'inline; filename="{file_name(row.number)}.{ending}"'
    response["Cache-Control"] = "private, no-store"
    return response
