"""Lists: certificates and which wait for review, issuers with what they are recognised for, who relies on whom."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db.models import Count, QuerySet

from standards.register.queries import standards
from standards.traceability.models import Accreditation, CertificateReceived, Issuer, Reliance
from standards.traceability.queries import scopes


def certificates() -> QuerySet[CertificateReceived]:
    """Find all certificates received with standard, issuer and review, newest received first."""
    return CertificateReceived.objects.select_related(
        "issuer", "calibration__standard__tag", "review__reviewer"
    ).order_by("-received_at", "-pk")


def waiting_for_review() -> QuerySet[CertificateReceived]:
    """Find the certificates that nobody has reviewed yet, longest waiting first."""
    return certificates().filter(review=None).order_by("received_at", "pk")


def issuers() -> QuerySet[Any]:
    """Find all issuers with ``certificate_count``."""
    return Issuer.objects.annotate(certificate_count=Count("certificates")).order_by("name")


def accreditations_at(issuer: Issuer, day: date) -> list[Accreditation]:
    """Find what an issuer was recognised for on a day, as known now."""
    rows = scopes.in_force(Accreditation.objects.filter(issuer=issuer), day)
    return sorted(rows, key=lambda row: (row.quantity, row.range_low_mm, row.pk))


def lapsing_accreditations(today: date, until: date) -> list[Accreditation]:
    """List the scope lines in force today whose term ends by a day, next first."""
    rows = scopes.in_force(Accreditation.objects.select_related("issuer"), today)
    return sorted(
        (row for row in rows if row.lapses_on is not None and row.lapses_on <= until),
        key=lambda row: (row.lapses_on, row.pk),
    )


def relied_on_by(ids: Iterable[int], at: datetime) -> dict[int, tuple[tuple[int, str], ...]]:
    """For each standard, the standards whose calibration in force at ``at`` relies on one of its calibrations.

    As (id, tag); standards nobody relies on have no entry. Two queries, whatever the number of standards.
    """
    in_force = {row.in_force_id: row for row in standards(at).exclude(in_force_id=None)}
    links = Reliance.objects.filter(upstream__standard__in=list(ids)).values_list(
        "upstream__standard_id", "calibration_id"
    )
    found: dict[int, set[tuple[int, str]]] = defaultdict(set)
    for above, below in links:
        if below in in_force:
            found[above].add((in_force[below].pk, in_force[below].tag.text))
    return {pk: tuple(sorted(rows, key=lambda row: row[1])) for pk, rows in found.items()}
