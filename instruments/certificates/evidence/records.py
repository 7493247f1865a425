"""What the records hold: the certificate as issued, the readings as handed in, the certificates above, the journal."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from pathlib import PurePosixPath

from django.core.files.storage import default_storage

from instruments.certificates.evidence.parts import Part, own_folder, own_of, received_name, text
from instruments.certificates.models import Certificate
from instruments.certificates.queries import file_fault, stored_file
from instruments.certificates.walking import Walk
from instruments.inventory.models.photos import CustodyPhoto, KeptPhoto
from instruments.inventory.pictures import read_kept
from instruments.measuring.models.photos import Photo
from labsys.journal.door import hash_of
from labsys.journal.models import JournalEntry
from standards.traceability import files
from standards.traceability.models import CertificateReceived
from standards.traceability.queries.chain import Node


def issued(certificate: Certificate, folder: str = "") -> Iterator[Part]:
    """Give the exact bytes issued, the signed text and the session as handed in; of what was altered it says so."""
    yield Part(f"{folder}certificate.pdf", _pdf(certificate), file_fault(certificate))
    yield _hashed(f"{folder}document.json", certificate.document, certificate.document_sha256)
    submission = certificate.submission
    yield _hashed(f"{folder}session-record.json", submission.record, submission.record_sha256)
    yield from _photos(certificate, folder)


def upstream(nodes: Iterable[Node]) -> Iterator[Part]:
    """Give what every calibration above stands on, each once."""
    seen: set[int] = set()
    for node in nodes:
        if node.calibration.pk in seen:
            continue
        seen.add(node.calibration.pk)
        if node.certificate is not None:
            yield _received(node, node.certificate)
        elif (own := own_of(node)) is not None:
            yield from issued(own, own_folder(node, own))
        else:
            said = f"No certificate of {node.calibration} is on record."
            yield Part(f"upstream/{node.calibration.standard.tag.text}", None, said)


def journal(walk: Walk) -> Part:
    """Give every entry about what the certificate stands on, as it was hashed, oldest first."""
    certificate = walk.certificate
    subjects = {
        f"certificate:{certificate.pk}",
        f"session:{certificate.session_id}",
        f"submission:{certificate.submission_id}",
        f"gauge:{certificate.session.gauge_id}",
        f"revision:{certificate.session.revision_id}",
    }
    for node in walk.nodes():
        subjects.add(f"calibration:{node.calibration.pk}")
        if node.certificate is not None:
            subjects.add(f"certificate-received:{node.certificate.pk}")
    rows = JournalEntry.objects.filter(subject__in=subjects).order_by("sequence")
    return Part("journal.json", text([{"canonical": row.canonical, "hash": row.hash} for row in rows]))


def _pdf(certificate: Certificate) -> bytes | None:
    try:
        return stored_file(certificate) if certificate.file else None
    except FileNotFoundError:
        return None  # file_fault says so in the manifest


def _hashed(name: str, content: str, sha256: str) -> Part:
    fault = (
        "" if hash_of(content) == sha256 else "It is no longer what was signed for. Restore it from a backup."
    )
    return Part(name, content.encode(), fault)


def _photos(certificate: Certificate, folder: str) -> Iterator[Part]:
    """Give the photos that the record names by their hashes, each once."""
    record = json.loads(certificate.submission.record)
    named = [row["sha256"] for name in ("received_photos", "photos") for row in record.get(name, ())]
    rows: dict[str, KeptPhoto] = {
        **{row.sha256: row for row in CustodyPhoto.objects.filter(sha256__in=named)},
        **{row.sha256: row for row in Photo.objects.filter(sha256__in=named)},
    }
    for sha256 in dict.fromkeys(named):
        name = f"{folder}photos/{sha256[:16]}"
        row = rows.get(sha256)
        if row is None:
            yield Part(name, None, f"The photo with SHA-256 {sha256} is not on record any more.")
            continue
        content, wrong = read_kept(row.file, sha256)
        name += PurePosixPath(row.file).suffix
        yield Part(name, content, f"Photo {sha256[:16]}: {wrong}." if wrong else "")


def _received(node: Node, received: CertificateReceived) -> Part:
    wrong = files.fault(received.file.name, received.file_sha256)
    fault = f"Certificate {received.number}: {wrong}." if wrong else ""
    try:
        with default_storage.open(str(received.file.name or "")) as file:
            return Part(received_name(node, received), file.read(), fault)
    except OSError:
        return Part(received_name(node, received), None, fault)
