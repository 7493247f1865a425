"""The act of receiving a certificate: its data, its values, its file, and what it relies on. Nothing is in use yet."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any, ClassVar

from django.core.files.base import ContentFile

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.queries import local_date
from standards.register.access import KEEP_STANDARDS
from standards.register.models import Calibration, Standard
from standards.register.operations import ValueData, record_calibration
from standards.traceability.files import Inspected, ReceivedFile, inspect
from standards.traceability.models import CertificateReceived, Issuer
from standards.traceability.operations.reliance import UpstreamMissing, rely_on, require_upstream

Route = CertificateReceived.Route
ROUTES: dict[str, tuple[str, ...]] = {
    Issuer.Kind.INSTITUTE: (Route.INSTITUTE, Route.INSTITUTE_OUTSIDE),
    Issuer.Kind.ACCREDITED: (Route.ACCREDITED, Route.LABORATORY_OUTSIDE),
    Issuer.Kind.MAKER: (Route.LABORATORY_OUTSIDE,),
    Issuer.Kind.IN_HOUSE: (Route.IN_HOUSE,),
}


class CertificateOnFile(LabError, ValueError):
    """A certificate of this issuer with this number was received before."""

    code: ClassVar[str] = "certificate-on-file"
    sentence: ClassVar[str] = (
        "Certificate {number} of {issuer} is on file already, for {tag}. Check the number; "
        "a corrected certificate carries one of its own."
    )
    field: ClassVar[str | None] = "number"


class IssuedAtAnImpossibleTime(LabError, ValueError):
    """Issued before the calibration was done, or tomorrow."""

    code: ClassVar[str] = "issued-at-an-impossible-time"
    sentence: ClassVar[str] = (
        "Issued on {issued_on}: expected a day from the calibration, {calibrated_on}, to today, {today}. "
        "Correct one of the dates."
    )
    field: ClassVar[str | None] = "issued_on"


class RouteDoesNotFit(LabError, ValueError):
    """The route isn't one that an issuer of this kind can give."""

    code: ClassVar[str] = "route-does-not-fit"
    sentence: ClassVar[str] = (
        "{issuer} is recorded as {kind}; expected route {expected}, found {found}. Choose another route."
    )
    field: ClassVar[str | None] = "route"


class FileOnRecord(LabError):
    """A file is attached once."""

    code: ClassVar[str] = "file-on-record"
    sentence: ClassVar[str] = (
        "Certificate {number} has its file already. A corrected certificate is received as a new one."
    )
    field: ClassVar[str | None] = "file"


@dataclass(frozen=True)
class CertificateData:
    """What stands on a certificate, as it stands there."""

    issuer: Issuer
    number: str
    calibrated_on: date
    issued_on: date
    quantity: str
    route: str
    serial_on_certificate: str
    conditions: str = ""
    accreditation_mark: bool = False
    stated_traceability: str = ""


@act("traceability.receive-certificate")
def receive_certificate(
    *,
    standard: Standard,
    data: CertificateData,
    values: tuple[ValueData, ...],
    file: ReceivedFile | None,
    relies_on: tuple[Calibration, ...],
    by: Acting,
    now: datetime,
) -> CertificateReceived:
    """Put a certificate on file with the calibration it reports, to be reviewed before anything is used.

    What a certificate lacks (another serial, no scope, no file) is found at the review, not here; refused is what
    can't be kept: CertificateOnFile, IssuedAtAnImpossibleTime, RouteDoesNotFit, FileNotAccepted, FileTooLarge,
    UpstreamMissing, what ``require_upstream`` raises, and what ``record_calibration`` raises.
    """
    require(by, KEEP_STANDARDS)
    _check(standard, data, relies_on, now)
    looked_at = inspect(file) if file else None
    for upstream in relies_on:
        require_upstream(upstream=upstream, day=data.calibrated_on)
    calibration = record_calibration(
        standard=standard, calibrated_on=data.calibrated_on, values=values, evidence="", by=by, now=now
    )
    if relies_on:
        rely_on(calibration=calibration, upstream=relies_on, by=by, now=now)
    columns = {**vars(data)}
    del columns["calibrated_on"]
    row = CertificateReceived(calibration=calibration, received_at=now, **columns)
    row.full_clean(exclude=["file"])
    _keep(row, file, looked_at)
    note(f"certificate-received:{row.pk}", after=_said(row, data))
    return row


@act("traceability.attach-file")
def attach_file(
    *, certificate: CertificateReceived, file: ReceivedFile, by: Acting, now: datetime
) -> CertificateReceived:
    """Add the scan to a certificate that came without one; raises FileOnRecord where there is one."""
    require(by, KEEP_STANDARDS)
    row = CertificateReceived.objects.select_for_update().get(pk=certificate.pk)
    if row.file:
        raise FileOnRecord(number=row.number, subject=f"certificate-received:{row.pk}")
    _keep(row, file, inspect(file))
    note(f"certificate-received:{row.pk}", after={"file_sha256": row.file_sha256})
    return row


def _check(
    standard: Standard, data: CertificateData, relies_on: tuple[Calibration, ...], now: datetime
) -> None:
    on_file = CertificateReceived.objects.filter(issuer=data.issuer, number=data.number)
    if known := on_file.select_related("calibration__standard__tag").first():
        tag = str(known.calibration.standard.tag)
        raise CertificateOnFile(number=data.number, issuer=data.issuer.name, tag=tag)
    today = local_date(now)
    if not data.calibrated_on <= data.issued_on <= today and data.calibrated_on <= today:
        raise IssuedAtAnImpossibleTime(
            issued_on=f"{data.issued_on}", calibrated_on=f"{data.calibrated_on}", today=f"{today}"
        )
    expected = ROUTES[data.issuer.kind]
    if data.route not in expected:
        raise RouteDoesNotFit(
            issuer=data.issuer.name,
            kind=data.issuer.get_kind_display(),
            expected=" or ".join(str(route) for route in expected),
            found=str(data.route),
        )
    if data.route == Route.IN_HOUSE and not relies_on:
        raise UpstreamMissing(tag=str(standard.tag))


def _keep(row: CertificateReceived, file: ReceivedFile | None, looked_at: Inspected | None) -> None:
    """Write the file under a drawn name, then the row; a row that can't be written takes its file with it."""
    if file is None or looked_at is None:
        row.save()
        return
    row.file_sha256 = looked_at.sha256
    row.file.save(looked_at.new_name(), ContentFile(file.content), save=False)
    try:
        row.save()
    except Exception:
        row.file.delete(save=False)
        raise


def _said(row: CertificateReceived, data: CertificateData) -> dict[str, Any]:
    return {
        **asdict(data, dict_factory=_without_rows),
        "issuer": data.issuer.name,
        "file_sha256": row.file_sha256,
    }


def _without_rows(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    return {name: value for name, value in pairs if name != "issuer"}
