"""Loads what the checks of a whole chain ask for: one query per level of the chain and seven besides."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime

from django.db.models import Count

from standards.register.models import Calibration, Element, ElementValue, StandardState
from standards.traceability import files
from standards.traceability.models import Accreditation, CertificateReceived, Reliance
from standards.traceability.queries.shapes import Facts

Successors = dict[int, list[tuple[date, datetime, int]]]


def load(roots: Iterable[Calibration]) -> dict[int, Facts]:
    """Load the facts of the calibrations and of everything above them, by id; a circle is walked once."""
    upstream = _reliances({root.pk for root in roots})
    rows = Calibration.objects.select_related("standard__tag").in_bulk(list(upstream))
    certificates = {
        row.calibration_id: row
        for row in CertificateReceived.objects.filter(calibration__in=rows).select_related(
            "issuer", "review", "review__reviewer"
        )
    }
    standards = {row.standard_id for row in rows.values()}
    values, states = _values(rows), _states(standards)
    scopes = _scopes({row.issuer_id for row in certificates.values()})
    successors, counts = _successors(standards), _element_counts(standards)
    return {
        pk: Facts(
            calibration=row,
            certificate=(certificate := certificates.get(pk)),
            review=getattr(certificate, "review", None),
            values=tuple(values[pk]),
            elements=counts.get(row.standard_id, 0),
            upstream=tuple(upstream[pk]),
            states=tuple(states[row.standard_id]),
            scopes=tuple(scopes[certificate.issuer_id]) if certificate else (),
            file_fault=files.fault(certificate.file.name, certificate.file_sha256) if certificate else None,
            successors={value.element_id: tuple(successors[value.element_id]) for value in values[pk]},
        )
        for pk, row in rows.items()
    }


def _reliances(roots: set[int]) -> dict[int, list[int]]:
    """Walk up level by level: each calibration's id with the ids it relies on, oldest link first."""
    found: dict[int, list[int]] = {}
    level = roots
    while level:
        found.update({pk: [] for pk in sorted(level)})
        links = Reliance.objects.filter(calibration__in=level).order_by("pk")
        for below, above in links.values_list("calibration_id", "upstream_id"):
            found[below].append(above)
        level = {above for pk in level for above in found[pk]} - found.keys()
    return found


def _values(calibrations: Iterable[int]) -> dict[int, list[ElementValue]]:
    found: dict[int, list[ElementValue]] = defaultdict(list)
    rows = ElementValue.objects.filter(calibration__in=calibrations).select_related("element")
    for row in rows.order_by("element__nominal_mm", "element_id"):
        found[row.calibration_id].append(row)
    return found


def _states(standards: set[int]) -> dict[int, list[StandardState]]:
    found: dict[int, list[StandardState]] = defaultdict(list)
    for row in StandardState.objects.filter(standard__in=standards).order_by(
        "valid_from", "recorded_at", "pk"
    ):
        found[row.standard_id].append(row)
    return found


def _scopes(issuers: set[int]) -> dict[int, list[Accreditation]]:
    found: dict[int, list[Accreditation]] = defaultdict(list)
    for row in Accreditation.objects.filter(issuer__in=issuers).order_by("valid_from", "recorded_at", "pk"):
        found[row.issuer_id].append(row)
    return found


def _successors(standards: set[int]) -> Successors:
    found: Successors = defaultdict(list)
    rows = ElementValue.objects.filter(
        calibration__standard__in=standards, calibration__accepted_at__isnull=False
    ).values_list("element_id", "calibration__calibrated_on", "calibration__accepted_at", "calibration_id")
    for element, calibrated_on, accepted_at, calibration in rows:
        assert accepted_at is not None  # the filter has said so
        found[element].append((calibrated_on, accepted_at, calibration))
    return found


def _element_counts(standards: set[int]) -> dict[int, int]:
    counted = Element.objects.filter(standard__in=standards).order_by().values("standard")
    return dict(counted.annotate(count=Count("pk")).values_list("standard", "count"))
