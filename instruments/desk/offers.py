"""What instruments puts into the header and into help, said once at start."""

from __future__ import annotations

from labsys.journal.access import READ_RECORDS
from labsys.pages import help, places


def offer() -> None:
    """Register the places and the pages of help."""
    places.register(name="Gauges", url_name="gauges", permission=READ_RECORDS)
    places.register(name="Planning", url_name="planning", permission=READ_RECORDS)
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
    help.register(
        slug="planning",
        title="Planning",
        template="instruments/recall/help_planning.html",
        prefix="/planning/",
    )
    help.register(slug="floor", title="Floor", template="instruments/recall/help_floor.html", prefix="/f/")
    help.register(
        slug="certificates",
        title="Certificates",
        template="instruments/certificates/help.html",
        prefix="/certificates/",
    )
