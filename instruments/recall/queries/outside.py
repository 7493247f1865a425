"""Whether the file of an outside certificate is still the one that was received."""

from __future__ import annotations

import hashlib

from instruments.recall.models import OutsideCertificate


def file_is_as_received(row: OutsideCertificate) -> bool:
    """Say whether the stored file is there and has the hash it was received with."""
    if not row.file.storage.exists(str(row.file.name)):
        return False
    with row.file.open("rb") as found:
        return hashlib.file_digest(found, "sha256").hexdigest() == row.file_sha256
