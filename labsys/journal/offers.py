"""What the journal puts into the header and into help, said once at start."""

from __future__ import annotations

from labsys.journal.access import READ_JOURNAL
from labsys.pages import help, places


def offer() -> None:
    """Register the place and its page of help."""
    places.register(name="Journal", url_name="journal", permission=READ_JOURNAL)
    help.register(slug="journal", title="Journal", template="labsys/help/journal.html", prefix="/journal/")
