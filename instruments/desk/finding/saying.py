"""Says of each kind what was found: its name, what it is, and where one goes on from there."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urlencode

from django.urls import reverse

from instruments.certificates.models import Certificate
from instruments.desk.finding.shapes import Found, Way
from instruments.inventory.models import Gauge
from instruments.recall.models import OutsideCertificate
from labsys.accounts.models import Person
from labsys.laboratory.queries import local_date
from standards.register.models import Calibration, Standard
from standards.traceability.models import CertificateReceived


def gauge(row: Gauge) -> Found:
    """Say which gauge it is."""
    tag = row.tag.text
    ways = (
        Way("Sessions", f"{reverse('sessions')}?{urlencode({'tag': tag})}"),
        Way("Certificates", f"{reverse('certificates')}?{urlencode({'tag': tag})}"),
    )
    says = f"{row.model}, serial {row.serial}, {row.department}"
    return Found(tag, says, reverse("gauge", args=[row.pk]), ways)


def standard(row: Standard, calibration_id: int | None) -> Found:
    """Say which standard it is; the chain is that of its newest accepted calibration."""
    chain = calibration_id and Way("Chain", reverse("calibration-chain", args=[calibration_id]))
    says = f"{row.name}, serial {row.serial}"
    return Found(row.tag.text, says, reverse("standard", args=[row.pk]), (chain,) if chain else ())


def newest_accepted(rows: Iterable[Standard]) -> dict[int, int]:
    """Give the newest accepted calibration of each standard, one query for all."""
    found = Calibration.objects.filter(standard__in=list(rows), accepted_at__isnull=False)
    return dict(found.order_by("calibrated_on", "pk").values_list("standard", "pk"))


def certificate(row: Certificate) -> Found:
    """Say what was certified, when, and how the certificate stands."""
    ways = [
        Way("Walk the chain", reverse("certificate-chain", args=[row.pk])),
        Way("Session", reverse("session", args=[row.session_id])),
    ]
    if row.file_sha256:
        ways.insert(0, Way("File", reverse("certificate-pdf", args=[row.pk])))
    says = f"{row.session.gauge}, signed {local_date(row.numbered_at)}, {row.get_state_display()}"
    return Found(row.number, says, reverse("certificate", args=[row.pk]), tuple(ways))


def received(row: CertificateReceived) -> Found:
    """Say who issued it and for which standard."""
    ways = [Way("Chain", reverse("calibration-chain", args=[row.calibration_id]))]
    if row.file:
        ways.insert(0, Way("File", reverse("certificate-file", args=[row.pk])))
    says = f"{row.issuer}, for {row.calibration.standard}"
    return Found(row.number, says, reverse("certificate-received", args=[row.pk]), tuple(ways))


def outside(row: OutsideCertificate) -> Found:
    """Say who issued it and for which gauge."""
    ways = (Way("File", reverse("outside-certificate-file", args=[row.pk])),)
    says = f"{row.issuer}, for {row.gauge}"
    return Found(row.number, says, reverse("outside-certificate", args=[row.pk]), ways)


def person(row: Person) -> Found:
    """Say who it is."""
    known = [f"user name {row.username}", str(row.department or ""), "" if row.is_active else "closed"]
    return Found(row.name, ", ".join(filter(None, known)), reverse("person", args=[row.pk]))
