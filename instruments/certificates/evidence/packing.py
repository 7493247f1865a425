"""Packs the evidence as a zip with fixed dates, so that the same records give the same bytes.

``manifest.json`` holds the SHA-256 of everything else in it, the head of the journal at that moment, and in words what
could not be given or is no longer what it was.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Iterable, Iterator

from instruments.certificates.evidence import records
from instruments.certificates.evidence.parts import Part, text
from instruments.certificates.evidence.way import way_of
from instruments.certificates.models import Certificate
from instruments.certificates.walking import walk_of
from labsys.journal.models import JournalHead

# The earliest date a zip can hold; the real ones stand in the records.
_WHEN = (1980, 1, 1, 0, 0, 0)
_UNIX, _READABLE = 3, 0o644 << 16


def pack(certificate: Certificate) -> bytes:
    """Pack everything behind a certificate into one zip."""
    walk = walk_of(certificate)
    parts = [
        *records.issued(certificate),
        *records.upstream(walk.nodes()),
        *way_of(walk),
        records.journal(walk),
    ]
    return _zipped([*parts, _manifest(certificate, parts)])


def _zipped(parts: Iterable[Part]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for part in _given(parts):
            info = zipfile.ZipInfo(part.name, _WHEN)
            info.create_system, info.external_attr = _UNIX, _READABLE
            archive.writestr(info, part.content or b"", zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def _given(parts: Iterable[Part]) -> Iterator[Part]:
    return (part for part in parts if part.content is not None)


def _manifest(certificate: Certificate, parts: list[Part]) -> Part:
    head = JournalHead.objects.filter(pk=1).first()
    listed = {
        "certificate": certificate.number,
        "record_sha256": certificate.submission.record_sha256,
        "document_sha256": certificate.document_sha256,
        "file_sha256": certificate.file_sha256,
        "journal_head": f"{head.sequence}:{head.hash}" if head else "",
        "files": [_listed(part) for part in _given(parts)],
        "faults": [{"name": part.name, "sentence": part.fault} for part in parts if part.fault],
    }
    return Part("manifest.json", text(listed))


def _listed(part: Part) -> dict[str, str | int]:
    content = part.content or b""
    return {"name": part.name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
