"""From the document to its file: PDF/A-3u with the document's own text attached, so that a machine reads what the pages
say. The same bytes every time: no date of its own, the day of issue is the document's.
"""

from __future__ import annotations

from datetime import UTC, datetime, time
from typing import Any, ClassVar

from instruments.certificates.document import Document, dump
from instruments.certificates.printing.sheet import html_of
from labsys.errors import LabError
from labsys.pages import pdf

VARIANT = "pdf/a-3u"
ATTACHMENT = "certificate.json"


class RenderingFailed(LabError, RuntimeError):
    """The pages could not be made."""

    code: ClassVar[str] = "rendering-failed"
    sentence: ClassVar[str] = (
        "The pages of certificate {number} could not be made: {problem}. They stay owed and are tried again; "
        "if it goes on, look at the log of the worker."
    )


def pdf_of(document: Document, *, draft: bool = False) -> bytes:
    """Render the certificate as PDF/A-3u; raises RenderingFailed, whatever the renderer stumbled over.

    A ``draft`` says so across every page.
    """
    try:
        html = html_of(document, draft=draft)
        return pdf.render(html, pdf_variant=VARIANT, pdf_tags=True, attachments=[_attachment(document)])
    except Exception as problem:
        raise RenderingFailed(
            number=document.number, problem=f"{type(problem).__name__}: {problem}"
        ) from problem


def _attachment(document: Document) -> Any:
    # Loading the renderer costs half a second and 70 MB; only who renders pays.
    from weasyprint import Attachment

    issued_at = datetime.combine(document.issued_on, time.min, tzinfo=UTC)
    return Attachment(
        string=dump(document),
        name=ATTACHMENT,
        description=f"What certificate {document.number} says, as data (format {document.format})",
        created=issued_at,
        modified=issued_at,
        relationship="Data",
    )
