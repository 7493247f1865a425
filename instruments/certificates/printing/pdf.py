"""The renderer: one document at a time per process, fetching nothing, the same bytes every time.

The text layout library behind it is not safe for several threads at once, hence the lock. PDF/A-3u with the document's
own text attached, so that a machine reads what the pages say. No date of its own: the day of issue is the document's.
"""

from __future__ import annotations

import threading
from datetime import UTC, datetime, time
from typing import Any, ClassVar

from instruments.certificates.document import Document, dump
from instruments.certificates.printing.sheet import html_of
from labsys.errors import LabError

VARIANT = "pdf/a-3u"
ATTACHMENT = "certificate.json"
_one_at_a_time = threading.Lock()


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
    from weasyprint.urls import FatalURLFetchingError

    with _one_at_a_time:
        try:
            return _render(document, html_of(document, draft=draft))
        except (Exception, FatalURLFetchingError) as problem:
            raise RenderingFailed(
                number=document.number, problem=f"{type(problem).__name__}: {problem}"
            ) from problem


def _render(document: Document, html: str) -> bytes:
    # Loading the renderer costs half a second and 70 MB; only who renders pays.
    from weasyprint import HTML, Attachment
    from weasyprint.text.fonts import FontConfiguration

    issued_at = datetime.combine(document.issued_on, time.min, tzinfo=UTC)
    attachment = Attachment(
        string=dump(document),
        name=ATTACHMENT,
        description=f"What certificate {document.number} says, as data (format {document.format})",
        created=issued_at,
        modified=issued_at,
        relationship="Data",
    )
    pages = HTML(string=html, url_fetcher=_fetcher()).render(font_config=FontConfiguration())
    made: bytes = pages.write_pdf(pdf_variant=VARIANT, pdf_tags=True, attachments=[attachment])
    return made


def _fetcher() -> Any:
    """Give a fetcher that reads what is inside the page and stops at anything else, instead of leaving a hole."""
    from weasyprint.urls import URLFetcher

    return URLFetcher(allowed_protocols={"data"}, allow_redirects=False, fail_on_errors=True)
