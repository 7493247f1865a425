"""Reads of certificates: by code and number, their documents, whether a file is still the one that was issued."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, ClassVar

from django.conf import settings
from django.db.models import QuerySet

from instruments.certificates.document import Document, load
from instruments.certificates.models import Certificate, NumberSeries
from instruments.inventory.models import Gauge
from instruments.measuring.models import Session
from labsys.errors import LabError
from labsys.journal.door import hash_of

VERIFY_PATH = "/verify/{code}/"
"""The address of the public page; it stands on paper, so it never changes."""


class DocumentChanged(LabError):
    """The stored text is no longer the one that was signed."""

    code: ClassVar[str] = "document-changed"
    sentence: ClassVar[str] = (
        "The stored text of certificate {number} is not the one that was signed. "
        "Restore the record from a backup; the issued file is not affected."
    )


def certificates() -> QuerySet[Certificate]:
    """Find all certificates with what lists show of them, newest first."""
    return Certificate.objects.select_related(
        "session__gauge__tag", "session__gauge__model__family", "session__gauge__department"
    ).defer("document")


def by_code(code: str) -> Certificate | None:
    """Find the certificate that a verification code belongs to."""
    rows = Certificate.objects.select_related("session__gauge__tag", "superseded_by", "supersedes")
    return rows.filter(code=code).first()


def document_of(certificate: Certificate) -> Document:
    """Read the frozen document; raises DocumentChanged when it isn't the text that was signed."""
    if hash_of(certificate.document) != certificate.document_sha256:
        raise DocumentChanged(number=certificate.number, subject=f"certificate:{certificate.pk}")
    return load(certificate.document)


def verification_url(code: str) -> str:
    """Give the public address that a certificate's code leads to."""
    return f"{settings.SITE_URL}{VERIFY_PATH.format(code=code)}"


def file_fault(certificate: Certificate) -> str:
    """Say what is wrong with the stored file; empty when it is the one that was issued."""
    if not certificate.file_sha256:
        return "The file is not made yet."
    try:
        content = stored_file(certificate)
    except FileNotFoundError:
        return "The file is missing from the store. Restore it from a backup."
    found = hashlib.sha256(content).hexdigest()
    if found != certificate.file_sha256:
        return "The file in the store is not the one that was issued. Restore it from a backup."
    return ""


def stored_file(certificate: Certificate) -> bytes:
    """Read the exact bytes that were issued; raises FileNotFoundError."""
    return (Path(settings.MEDIA_ROOT) / str(certificate.file.name)).read_bytes()


def file_name(text: str) -> str:
    """Turn a number or a tag into a name that every file system and header takes, without an ending."""
    return "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-._") else "-" for sign in text)


def names_of(ids: Collection[int]) -> Mapping[int, str]:
    """Give the numbers of certificates by their ids."""
    return dict(Certificate.objects.filter(pk__in=ids).values_list("pk", "number"))


def ids_of(text: str) -> list[int]:
    """Find the id of the certificate that carries a number, whatever the capitals."""
    return list(Certificate.objects.filter(number__iexact=text.strip()).values_list("pk", flat=True))


def of_session(session: Session) -> Certificate | None:
    """Find the newest certificate of a session."""
    return certificates().filter(session=session).first()


def unconfirmed_series() -> QuerySet[NumberSeries]:
    """Find the series that give no number until a person has confirmed the highest one."""
    return NumberSeries.objects.filter(confirmed=False)


def state_at(certificate: Certificate, at: datetime) -> str:
    """Say how a certificate stood at an instant; empty before it was signed.

    When one was withdrawn stands in the journal, so a withdrawn one is called so for every day from its issue on.
    """
    State = Certificate.State
    if at < certificate.numbered_at:
        return ""
    if certificate.state == State.WITHDRAWN:
        return str(State.WITHDRAWN.label)
    successor = getattr(certificate, "superseded_by", None)
    if successor is not None and successor.numbered_at <= at:
        return str(State.SUPERSEDED.label)
    if certificate.issued_at is None or at < certificate.issued_at:
        return str(State.NUMBERED.label)
    return str(State.ISSUED.label)


def panel(gauge: Gauge, at: datetime) -> dict[str, Any]:
    """Give the certificates of a gauge signed by ``at`` and how each stood then, for its page."""
    rows = certificates().select_related("superseded_by").filter(session__gauge=gauge, numbered_at__lte=at)
    return {"certificates": [(row, state_at(row, at)) for row in rows[:20]]}
