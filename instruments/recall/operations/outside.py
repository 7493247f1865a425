"""Certificates for gauges from other laboratories: received with their file, then accepted or rejected."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime
from typing import ClassVar
from uuid import uuid4

from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile

from instruments.inventory.models import Gauge
from instruments.recall.access import ACCEPT_OUTSIDE, RECEIVE_OUTSIDE
from instruments.recall.models import CalibrationEvent, OutsideCertificate
from instruments.recall.operations.events import (
    CalibratedInTheFuture,
    CalibrationOutcome,
    record_calibration,
)
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require
from labsys.laboratory.queries import local_date

MOST_BYTES = 20 * 1024 * 1024
_KINDS = {b"%PDF-": "pdf", b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpg"}


class NotACertificateFile(LabError, ValueError):
    """A file that is neither PDF nor picture, or too large."""

    code: ClassVar[str] = "not-a-certificate-file"
    sentence: ClassVar[str] = (
        "Expected a PDF, PNG or JPEG file of at most 20 MB, found {found}. Scan or save the certificate as one."
    )
    field: ClassVar[str | None] = "file"


class AlreadyDecided(LabError):
    """The certificate was accepted or rejected already."""

    code: ClassVar[str] = "outside-certificate-decided"
    sentence: ClassVar[str] = (
        "The certificate {number} was {how} already. A decision stays; nothing was changed."
    )


@dataclass(frozen=True)
class OutsideData:
    """What an outside certificate says; ``verdict`` is the one as left."""

    issuer: str
    number: str
    calibrated_on: date
    verdict: str
    as_found: str = ""
    as_found_within_limits: bool | None = None
    adjusted: bool = False
    accreditation: str = ""


@act("recall.receive-outside-certificate")
def receive_outside_certificate(
    *, gauge: Gauge, data: OutsideData, file: UploadedFile, by: Person, now: datetime
) -> OutsideCertificate:
    """Put an outside certificate on file with its hash; it counts only once it is accepted.

    Raises NotACertificateFile, CalibratedInTheFuture; ValidationError for a number that is on file already.
    """
    require(by, RECEIVE_OUTSIDE)
    today = local_date(now)
    if data.calibrated_on > today:
        raise CalibratedInTheFuture(
            calibrated_on=f"{data.calibrated_on:%Y-%m-%d}",
            today=f"{today:%Y-%m-%d}",
            subject=f"gauge:{gauge.pk}",
        )
    content, kind = _read(file)
    row = OutsideCertificate(gauge=gauge, received_at=now, received_by=by, **vars(data))
    row.file_sha256 = hashlib.sha256(content).hexdigest()
    # A name of our own: what somebody called their file says nothing and may be anything.
    row.file = ContentFile(content, name=f"{uuid4().hex}.{kind}")
    row.full_clean(exclude=["as_found_within_limits", "decided_by", "accepted_at", "rejected_at"])
    row.save()
    note(
        f"gauge:{gauge.pk}",
        after={"outside_certificate": row.pk, "sha256": row.file_sha256, **vars(data)},
    )
    return row


def _read(file: UploadedFile) -> tuple[bytes, str]:
    size = file.size or 0
    if size > MOST_BYTES:
        raise NotACertificateFile(found=f"{size / 1024 / 1024:.0f} MB")
    content = file.read()
    kind = next((name for magic, name in _KINDS.items() if content.startswith(magic)), None)
    if kind is None:
        raise NotACertificateFile(found="another kind of file" if content else "an empty file")
    return content, kind


@act("recall.accept-outside-certificate")
def accept_outside_certificate(
    *, certificate: OutsideCertificate, reason: str, by: Person, now: datetime
) -> CalibrationEvent:
    """Accept a certificate: from now on it is the gauge's calibration of its day. Raises AlreadyDecided."""
    require(by, ACCEPT_OUTSIDE)
    row = _undecided(certificate)
    row.accepted_at, row.decided_by, row.decision_reason = now, by, reason
    row.save(update_fields=["accepted_at", "decided_by", "decision_reason"])
    note(f"gauge:{row.gauge_id}", reason=reason, after={"accepted": row.pk})
    return record_calibration(
        gauge=row.gauge,
        source=f"outside:{row.pk}",
        calibrated_on=row.calibrated_on,
        outcome=CalibrationOutcome(row.as_found, row.as_found_within_limits, row.verdict, row.adjusted),
        by=by,
        now=now,
    )


@act("recall.reject-outside-certificate")
def reject_outside_certificate(
    *, certificate: OutsideCertificate, reason: str, by: Person, now: datetime
) -> OutsideCertificate:
    """Reject a certificate with a reason; it stays on file and never counts. Raises AlreadyDecided."""
    require(by, ACCEPT_OUTSIDE)
    row = _undecided(certificate)
    row.rejected_at, row.decided_by, row.decision_reason = now, by, reason
    row.save(update_fields=["rejected_at", "decided_by", "decision_reason"])
    note(f"gauge:{row.gauge_id}", reason=reason, after={"rejected": row.pk})
    return row


def _undecided(certificate: OutsideCertificate) -> OutsideCertificate:
    rows = OutsideCertificate.objects.select_for_update(of=("self",)).select_related("gauge__model__family")
    row = rows.get(pk=certificate.pk)
    if row.accepted_at or row.rejected_at:
        how = "accepted" if row.accepted_at else "rejected"
        raise AlreadyDecided(number=str(row), how=how, subject=f"gauge:{row.gauge_id}")
    return row
