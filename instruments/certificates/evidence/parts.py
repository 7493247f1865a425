"""What the evidence is made of: files by name, and how their names and texts are written."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from instruments.certificates.models import Certificate
from instruments.certificates.queries import certificates, file_name
from standards.traceability.models import CertificateReceived
from standards.traceability.queries.chain import Node


@dataclass(frozen=True)
class Part:
    """One file of the evidence; ``content`` None where it can't be given, and ``fault`` then says why."""

    name: str
    content: bytes | None
    fault: str = ""


def text(value: Any) -> bytes:
    """Write a value as readable JSON, the same for the same value."""
    return json.dumps(value, indent=2, ensure_ascii=False, sort_keys=True).encode()


def received_name(node: Node, received: CertificateReceived) -> str:
    """Name the file of the certificate received for a node by tag and number; its id keeps two of one name apart."""
    tag = node.calibration.standard.tag.text
    stem = file_name(f"{tag}_{received.number}")
    return f"upstream/{stem}_{received.pk}{Path(str(received.file.name)).suffix.lower()}"


def own_folder(node: Node, own: Certificate) -> str:
    """Name the folder of the certificate that this laboratory gave a standard."""
    return f"upstream/{file_name(f'{node.calibration.standard.tag.text}_{own.number}')}/"


def own_of(node: Node) -> Certificate | None:
    """Find the certificate of the session in which a standard was calibrated here; None where it was elsewhere."""
    kind, _, key = node.calibration.evidence.partition(":")
    if node.certificate is not None or kind != "session" or not key.isdigit():
        return None
    return certificates().defer(None).select_related("submission").filter(session_id=int(key)).first()
