"""What instruments puts into the header and into help, said once at start."""

from __future__ import annotations

from labsys.journal.access import READ_RECORDS
from labsys.pages import help, places


def offer() -> None:
    """Register the places and the pages of help."""
    places.register(name="Gauges", url_name="gauges", permission=READ_RECORDS)
    help.register(
        slug="gauges", title="Gauges", template="instruments/inventory/help.html", prefix="/gauges/"
    )
