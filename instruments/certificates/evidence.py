"""The evidence behind a certificate as one file: what was issued, what was read, the chain upward, who did what.

A zip with fixed dates, so that the same records give the same bytes; ``manifest.json`` holds the SHA-256 of everything
in it and the head of the journal at that moment.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.core.files.storage import default_storage

from instruments.certificates.chains import chains_of
from instruments.certificates.models import Certificate
from instruments.certificates.queries import stored_file
from instruments.certificates.work import link_of
from labsys.journal.models import JournalEntry, JournalHead
from standards.traceability.models import CertificateReceived
from standards.traceability.queries.chain import Node

_WHEN = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Part:
    """One file of the evidence."""

    name: str
    content: bytes


def pack(certificate: Certificate) -> bytes:
    """Pack everything behind a certificate into one zip."""
    chains = chains_of(certificate.session)
    parts = [
        *_issued(certificate),
        *_upstream(chains),
        _chain(certificate, chains),
        _journal(certificate, chains),
    ]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in (*parts, _manifest(certificate, parts)):
            archive.writestr(zipfile.ZipInfo(part.name, _WHEN), part.content)
    return packed.getvalue()


def _issued(certificate: Certificate) -> Iterator[Part]:
    if certificate.file:
        yield Part("certificate.pdf", stored_file(certificate))
    yield Part("certificate.json", certificate.document.encode())
    yield Part("session-record.json", certificate.submission.record.encode())


def _upstream(chains: tuple[Node, ...]) -> Iterator[Part]:
    """Give the received certificates' files, each once, by tag and number."""
    seen: set[int] = set()
    for node in (node for chain in chains for node in chain.walk()):
        received = node.certificate
        if received is None or not received.file or received.pk in seen:
            continue
        seen.add(received.pk)
        with default_storage.open(str(received.file.name)) as file:
            yield Part(
                f"upstream/{node.calibration.standard.tag}-{received.pk}{_ending(received)}", file.read()
            )


def _ending(received: CertificateReceived) -> str:
    name = str(received.file.name)
    return f".{name.rpartition('.')[2]}" if "." in name else ""


def _chain(certificate: Certificate, chains: tuple[Node, ...]) -> Part:
    link = link_of(certificate.session)
    report = {
        "certificate": certificate.number,
        "session": {"id": certificate.session_id, "link": _link(link)},
        "standards": [_node(chain) for chain in chains],
    }
    return Part("chain.json", _text(report))


def _node(node: Node) -> dict[str, Any]:
    received = node.certificate
    return {
        "standard": node.calibration.standard.tag.text,
        "serial": node.calibration.standard.serial,
        "calibrated_on": f"{node.calibration.calibrated_on:%Y-%m-%d}",
        "used_on": f"{node.use.day:%Y-%m-%d}",
        "certificate": None if received is None else f"{received.issuer} {received.number}",
        "file_sha256": "" if received is None else received.file_sha256,
        "ends_here": node.is_terminus,
        "holds": node.holds,
        "links": [_link(link) for link in node.links],
        "relies_on": [_node(above) for above in node.upstream],
    }


def _link(link: Any) -> dict[str, Any]:
    holds = "not checked yet" if link.holds is None else ("holds" if link.holds else "broken")
    return {"code": link.code, "word": link.word, "holds": holds, "sentence": link.sentence}


def _journal(certificate: Certificate, chains: tuple[Node, ...]) -> Part:
    nodes = [node for chain in chains for node in chain.walk()]
    subjects = {
        f"certificate:{certificate.pk}",
        f"session:{certificate.session_id}",
        f"submission:{certificate.submission_id}",
        f"gauge:{certificate.session.gauge_id}",
        f"revision:{certificate.session.revision_id}",
        *(f"calibration:{node.calibration.pk}" for node in nodes),
        *(f"certificate-received:{node.certificate.pk}" for node in nodes if node.certificate),
    }
    rows = JournalEntry.objects.filter(subject__in=subjects).order_by("sequence")
    entries = [{"canonical": row.canonical, "hash": row.hash} for row in rows]
    return Part("journal.json", _text(entries))


def _manifest(certificate: Certificate, parts: list[Part]) -> Part:
    head = JournalHead.objects.filter(pk=1).first()
    listed = {
        "certificate": certificate.number,
        "record_sha256": certificate.submission.record_sha256,
        "document_sha256": certificate.document_sha256,
        "journal_head": f"{head.sequence}:{head.hash}" if head else "",
        "files": [
            {
                "name": part.name,
                "bytes": len(part.content),
                "sha256": hashlib.sha256(part.content).hexdigest(),
            }
            for part in parts
        ],
    }
    return Part("manifest.json", _text(listed))


def _text(value: Any) -> bytes:
    return json.dumps(value, indent=2, ensure_ascii=False, sort_keys=True).encode()
