"""From the numbered certificate to its file: rendered outside any transaction, stored whole, then recorded.

What happens when the worker dies right here: before the file is renamed, nothing is there; after it, the next run makes
the same bytes, finds the file and takes it; after the record, the next run sees that it is issued.
"""

from __future__ import annotations

import hashlib
import logging
import os
import re
import tempfile
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import ClassVar

from celery import current_app
from django.conf import settings

from instruments.certificates.models import Certificate
from instruments.certificates.printing import pdf_of
from instruments.certificates.queries import document_of
from labsys.errors import LabError
from labsys.journal.door import Acting, Actor, act, note

RENDER = "render-certificate"
RENDER_TASK = "instruments.render-certificates"
FOLDER = "certificates"
RENDERER = Actor("job:render-certificate", "certificate renderer", "job")

log = logging.getLogger(__name__)


class AlreadyIssued(LabError):
    """Another worker was faster, or the certificate was issued long ago."""

    code: ClassVar[str] = "already-issued"
    sentence: ClassVar[str] = "Certificate {number} is issued already; its file is never made again."


def wake_renderer() -> None:
    """Tell the worker that a file is owed; when the message is lost, the minute's sweep finds it all the same."""
    current_app.send_task(RENDER_TASK, ignore_result=True, retry=False)


def render(certificate: Certificate, now: datetime) -> Certificate:
    """Make the file of a numbered certificate and issue it; one that is issued already is left as it is.

    Raises RenderingFailed, DocumentChanged, OSError where the disk refuses.
    """
    row = Certificate.objects.get(pk=certificate.pk)
    if row.state != Certificate.State.NUMBERED:
        return row
    content = pdf_of(document_of(row))
    sha256 = hashlib.sha256(content).hexdigest()
    name = _store(row, content, sha256)
    return record_file(certificate=row, name=name, sha256=sha256, by=RENDERER, now=now)


@act("certificates.issue")
def record_file(
    *, certificate: Certificate, name: str, sha256: str, by: Acting, now: datetime
) -> Certificate:
    """Record the stored file and its hash, which issues the certificate; raises AlreadyIssued."""
    waiting = Certificate.objects.filter(pk=certificate.pk, state=Certificate.State.NUMBERED)
    if not waiting.update(file=name, file_sha256=sha256, issued_at=now, state=Certificate.State.ISSUED):
        raise AlreadyIssued(number=certificate.number, subject=f"certificate:{certificate.pk}")
    note(
        f"certificate:{certificate.pk}",
        before={"state": "numbered"},
        after={"state": "issued", "file": name, "file_sha256": sha256},
    )
    certificate.refresh_from_db()
    return certificate


def _store(certificate: Certificate, content: bytes, sha256: str) -> str:
    """Put the file in its place in one step, named by number and content; take one that is there already and whole."""
    safe = re.sub(r"[^A-Za-z0-9-]+", "-", certificate.number)
    name = f"{FOLDER}/{safe}-{sha256[:16]}.pdf"
    target = Path(settings.MEDIA_ROOT) / name
    target.parent.mkdir(parents=True, exist_ok=True)
    if target.is_file() and hashlib.sha256(target.read_bytes()).hexdigest() == sha256:
        log.info("certificate %s: its file was stored already and is taken", certificate.number)
        return name
    _write(target, content)
    return name


def _write(target: Path, content: bytes) -> None:
    """Write to a name of its own, wait for the disk, rename, wait for the folder."""
    handle, fresh = tempfile.mkstemp(dir=target.parent, prefix=".", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(fresh, target)
    except OSError:
        with suppress(FileNotFoundError):
            os.unlink(fresh)
        raise
    folder = os.open(target.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
