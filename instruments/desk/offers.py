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
    help.register(
        slug="procedures",
        title="Procedures",
        template="instruments/procedures/help.html",
        prefix="/lab/procedures/",
    )
    help.register(
        slug="procedure-file", title="A procedure's file", template="instruments/procedures/help_file.html"
    )
