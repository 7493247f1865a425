"""Prints, from labels to certificates: from a page's text to a file, one rendering at a time, fetching nothing.

The text layout library behind the renderer is not safe for several threads at once, hence the one lock of the process.
"""

from __future__ import annotations

import threading
from typing import Any

from labsys.errors import LabError

_one_at_a_time = threading.Lock()


class PrintFailed(LabError, RuntimeError):
    """The renderer could not make the file."""

    code = "print-failed"
    sentence = "The print could not be made: {problem}. Try again; if it goes on, look at the server's log."


def render(html: str, **options: Any) -> bytes:
    """Render a page whose styles, fonts and pictures are all inside it; the same text gives the same bytes.

    ``options`` go to the renderer as they are: the variant of the file, what is attached to it.
    Raises PrintFailed, whatever the renderer stumbled over: a hole in a print would go unnoticed.
    """
    # Loading the renderer costs half a second and 70 MB; only who renders pays.
    from weasyprint import HTML
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import FatalURLFetchingError, URLFetcher

    fetcher = URLFetcher(allowed_protocols={"data"}, allow_redirects=False, fail_on_errors=True)
    with _one_at_a_time:
        try:
            made: bytes = HTML(string=html, url_fetcher=fetcher).write_pdf(
                font_config=FontConfiguration(), **options
            )
        except (Exception, FatalURLFetchingError) as problem:
            raise PrintFailed(problem=f"{type(problem).__name__}: {problem}") from problem
    return made
