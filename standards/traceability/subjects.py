"""What the journal's subjects stand for in standards: standards by their tags, certificates received, issuers."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from django.db.models import QuerySet

from labsys.journal.subjects import Kind, Names, register
from labsys.laboratory.queries import called
from standards.register.models import Calibration, Standard
from standards.traceability.models import CertificateReceived, Issuer

MOST = 20


def _in_words(rows: QuerySet[Any]) -> Names:
    def names(ids: Collection[int]) -> Mapping[int, str]:
        return {row.pk: str(row) for row in rows.filter(pk__in=ids)}

    return names


def _tagged(text: str) -> Collection[int]:
    return list(called(Standard.objects.all(), text).values_list("pk", flat=True)[:MOST])


def explain() -> None:
    """Tell the journal; called once, at start."""
    calibrations = Calibration.objects.select_related("standard__tag")
    received = CertificateReceived.objects.select_related("issuer")
    for kind in (
        Kind("standard", "standard", "standard", _in_words(Standard.objects.select_related("tag")), _tagged),
        Kind("calibration", "calibration of", "calibration-chain", _in_words(calibrations)),
        Kind("certificate-received", "certificate received,", "certificate-received", _in_words(received)),
        Kind("issuer", "issuer", "issuer", _in_words(Issuer.objects.all())),
    ):
        register(kind)
