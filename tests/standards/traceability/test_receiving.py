"""Receiving a certificate: what is kept, what can't be, and what a file must be."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from PIL import Image

from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from standards.register import queries as register
from standards.register.models import Calibration, Standard
from standards.register.operations import CalibratedInTheFuture, NoValues
from standards.traceability import files
from standards.traceability import operations as acts
from standards.traceability.files import FileNotAccepted, FileTooLarge, ReceivedFile
from standards.traceability.models import CertificateReceived, Issuer
from tests.standards.conftest import REGISTERED, at
from tests.standards.traceability.conftest import PDF

Receive = Callable[..., CertificateReceived]


def picture(kind: str) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (4, 4), "white").save(out, kind)
    return out.getvalue()


def stored(settings: Any) -> list[Path]:
    return [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]


def test_what_is_received_is_kept_and_not_in_use(blocks: Standard, receive: Receive, settings: Any) -> None:
    row = receive(blocks)
    assert (row.calibration.due_on, row.calibration.accepted_at) == (date(2025, 2, 1), None)
    assert register.usability(blocks, at("2024-02-05")).code == "standard-not-reviewed"
    assert row.file_sha256 == hashlib.sha256(PDF.content).hexdigest()
    (path,) = stored(settings)
    assert path.read_bytes() == PDF.content
    assert path.suffix == ".pdf"
    assert len(path.stem) == 32
    assert "scan" not in str(path)
    entry = JournalEntry.objects.get(subject=f"certificate-received:{row.pk}")
    assert entry.after is not None
    assert (entry.after["number"], entry.after["file_sha256"]) == ("N-1", row.file_sha256)


@pytest.mark.parametrize(("kind", "ending"), [("PNG", "png"), ("JPEG", "jpg")])
def test_pictures_are_told_by_their_bytes(kind: str, ending: str, blocks: Standard, receive: Receive) -> None:
    row = receive(blocks, file=ReceivedFile("certificate.pdf", picture(kind)))
    assert str(row.file.name).endswith(f".{ending}")
    assert files.media_type(str(row.file.name)) == f"image/{kind.lower()}"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<html>%PDF-1.4 %%EOF</html>",
        b"%PDF-1.4 cut off",
        b"MZ\x90\x00",
        b"GIF89a\x01\x00\x01\x00\x00\x00\x00;",
        picture("PNG")[:40],
        picture("GIF"),
        picture("BMP"),
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
    ],
)
def test_other_files_are_refused_whatever_their_name(
    content: bytes, blocks: Standard, receive: Receive, settings: Any
) -> None:
    with pytest.raises(FileNotAccepted, match="certificate.pdf"):
        receive(blocks, file=ReceivedFile("certificate.pdf", content))
    assert stored(settings) == []
    assert not Calibration.objects.exists()


def test_a_file_has_a_largest_size(
    blocks: Standard, receive: Receive, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "LARGEST_BYTES", len(PDF.content))
    receive(blocks)
    with pytest.raises(FileTooLarge):
        receive(blocks, number="N-2", file=ReceivedFile("big.pdf", PDF.content + b"\n"))


def test_a_number_is_received_once_per_issuer(blocks: Standard, receive: Receive, manager: Person) -> None:
    receive(blocks)
    with pytest.raises(acts.CertificateOnFile, match="on file already, for GB-01"):
        receive(blocks)
    other = acts.register_issuer(name="Southern laboratory", kind="accredited", by=manager, now=REGISTERED)
    assert receive(blocks, issuer=other)


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"issued_on": date(2024, 1, 31)}, acts.IssuedAtAnImpossibleTime, "issued_on"),
        ({"issued_on": date(2024, 2, 6)}, acts.IssuedAtAnImpossibleTime, "issued_on"),
        (
            {"calibrated_on": date(2024, 2, 6), "issued_on": date(2024, 2, 6)},
            CalibratedInTheFuture,
            "calibrated_on",
        ),
        ({"route": "1"}, acts.RouteDoesNotFit, "route"),
        ({"route": "in-house"}, acts.RouteDoesNotFit, "route"),
        ({"given": ()}, NoValues, None),
    ],
)
def test_what_cannot_be_kept_names_its_field(
    changes: dict[str, Any],
    refusal: type[LabError],
    field: str | None,
    blocks: Standard,
    receive: Receive,
    settings: Any,
) -> None:
    with pytest.raises(refusal) as refused:
        receive(blocks, **changes)
    assert refused.value.field == field
    assert not CertificateReceived.objects.exists()
    assert stored(settings) == []


def test_a_certificate_of_this_laboratory_names_what_it_relies_on(
    master: Calibration, make_standard: Callable[..., Standard], receive: Receive, manager: Person
) -> None:
    own = acts.register_issuer(name="This laboratory", kind="in-house", by=manager, now=REGISTERED)
    ring = make_standard("RG-01", serial="R1")
    paper: dict[str, Any] = {
        "issuer": own,
        "route": "in-house",
        "number": "H-1",
        "calibrated_on": date(2024, 4, 1),
        "issued_on": date(2024, 4, 1),
        "serial_on_certificate": "R1",
        "now": at("2024-04-02"),
    }
    with pytest.raises(acts.UpstreamMissing, match="RG-01"):
        receive(ring, **paper)
    row = receive(ring, relies_on=(master, master), **paper)
    assert [link.upstream for link in row.calibration.relies_on.all()] == [master]
    # The master had lapsed when this one claims to have relied on it.
    late = {**paper, "number": "H-2", "calibrated_on": date(2025, 2, 2), "issued_on": date(2025, 2, 2)}
    with pytest.raises(register.StandardOverdue, match="GB-01"):
        receive(ring, relies_on=(master,), **{**late, "now": at("2025-02-03")})
    early = {**paper, "number": "H-3", "calibrated_on": date(2024, 2, 5), "issued_on": date(2024, 2, 5)}
    with pytest.raises(register.StandardNotReviewed):
        receive(ring, relies_on=(master,), **early)


def test_an_older_calibration_is_not_relied_on_after_it_lapsed(
    master: Calibration, calibrate: Callable[..., Calibration]
) -> None:
    calibrate(master.standard, "2025-01-15")
    acts.require_upstream(upstream=master, day=date(2025, 2, 1))
    with pytest.raises(acts.UpstreamNotAccepted, match="held through 2025-02-01"):
        acts.require_upstream(upstream=master, day=date(2025, 2, 2))
    waiting = calibrate(master.standard, "2025-02-10", accepted=None)
    with pytest.raises(acts.UpstreamNotAccepted, match="not accepted by then"):
        acts.require_upstream(upstream=waiting, day=date(2025, 2, 11))


def test_a_circle_is_refused(master: Calibration, reference: Calibration, technician: Person) -> None:
    for above in (reference, master):
        with pytest.raises(acts.CircularChain, match="GB-01 can't rely on"):
            acts.rely_on(calibration=master, upstream=(above,), by=technician, now=at("2024-06-01"))


def test_the_scan_is_added_once(blocks: Standard, receive: Receive, technician: Person) -> None:
    row = receive(blocks, file=None)
    assert (row.file_sha256, bool(row.file)) == ("", False)
    acts.attach_file(certificate=row, file=PDF, by=technician, now=at("2024-02-07"))
    row.refresh_from_db()
    assert files.fault(row.file.name, row.file_sha256) is None
    with pytest.raises(acts.FileOnRecord):
        acts.attach_file(certificate=row, file=PDF, by=technician, now=at("2024-02-08"))


def test_a_row_that_cannot_be_written_leaves_no_file(
    blocks: Standard, receive: Receive, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: Any, **options: Any) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(CertificateReceived, "save", fail)
    with pytest.raises(RuntimeError, match="disk"):
        receive(blocks)
    assert stored(settings) == []
    assert not Calibration.objects.exists()


def test_issuers_and_scopes_are_the_managers_and_reviewers(
    technician: Person, reviewer: Person, laboratory: Issuer
) -> None:
    with pytest.raises(NotAllowed):
        acts.register_issuer(name="Elsewhere", kind="maker", by=technician, now=REGISTERED)
    assert acts.register_issuer(name="Elsewhere", kind="maker", by=reviewer, now=REGISTERED).pk
    with pytest.raises(ValidationError):
        acts.register_issuer(name="Elsewhere", kind="maker", by=reviewer, now=REGISTERED)


def test_only_those_who_keep_standards_receive(
    blocks: Standard, certificate_data: Any, auditor: Person
) -> None:
    with pytest.raises(NotAllowed):
        acts.receive_certificate(
            standard=blocks,
            data=certificate_data,
            values=(),
            file=None,
            relies_on=(),
            by=auditor,
            now=REGISTERED,
        )


def test_a_scope_ends_after_it_begins_and_is_withdrawn_once(
    laboratory: Issuer, scope: Any, scope_data: Any, manager: Person
) -> None:
    from dataclasses import replace

    with pytest.raises(acts.RangeUpsideDown):
        upside_down = replace(scope_data, range_low_mm=scope_data.range_high_mm + 1)
        acts.record_accreditation(issuer=laboratory, data=upside_down, by=manager, now=REGISTERED)

    def withdraw() -> object:
        return acts.withdraw_accreditation(
            accreditation=scope,
            valid_from=at("2024-06-01"),
            reason="Ended.",
            by=manager,
            now=at("2024-06-01"),
        )

    assert withdraw()
    with pytest.raises(acts.NothingToWithdraw):
        withdraw()
