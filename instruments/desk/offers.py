"""What instruments puts into the header and into help, said once at start."""

from __future__ import annotations

from django.urls import reverse

from instruments.certificates.access import CONFIRM_NUMBERS
from instruments.certificates.queries import of_session
from instruments.desk.subjects import explain
from instruments.measuring.access import MEASURE, REVIEW
from instruments.measuring.leading import Lead, register_lead
from instruments.measuring.models import Session
from labsys.journal.access import READ_RECORDS
from labsys.pages import help, places
from labsys.pages.sections import Section
from labsys.pages.sections import register as bring

SETTLED, DOCUMENTS = "What was settled", "Documents"


def offer() -> None:
    """Register the places and the pages of help."""
    places.register(name="Bench", url_name="bench", permission=MEASURE)
    places.register(name="Gauges", url_name="gauges", permission=READ_RECORDS)
    places.register(name="Reviews", url_name="review", permission=REVIEW)
    places.register(name="Planning", url_name="planning", permission=READ_RECORDS)
    _sections()
    explain()
    register_lead("certificate", _certificate)
    help.register(
        slug="reviews", title="Reviews", template="instruments/desk/help_reviews.html", prefix="/review"
    )
    help.register(
        slug="sessions",
        title="Sessions",
        template="instruments/measuring/help_sessions.html",
        prefix="/sessions/",
    )
    help.register(
        slug="search", title="Search", template="instruments/desk/help_search.html", prefix="/search/"
    )
    help.register(slug="bench", title="Bench", template="instruments/measuring/help.html", prefix="/bench/")
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


def _certificate(session: Session) -> Lead | None:
    """Lead from a session to the certificate that came of it."""
    found = of_session(session)
    if found is None:
        return None
    return Lead(f"Certificate {found.number}", reverse("certificate", args=[found.pk]))


def _sections() -> None:
    """Bring what is settled about gauges, and their documents, to the Lab."""
    for name, url_name, says, group in (
        ("Procedures", "procedures", "How each family is calibrated; drafted, approved, frozen.", SETTLED),
        (
            "Models and limits",
            "gauge-models",
            "Gauges as made: range, step, functions, limits of error.",
            SETTLED,
        ),
        ("Search", "search", "Find anything by what is written on it.", DOCUMENTS),
        ("Sessions", "sessions", "Everything that was measured, with every reading.", DOCUMENTS),
        ("Certificates", "certificates", "Every certificate issued, and what waits for its file.", DOCUMENTS),
    ):
        bring("Lab", Section(name, url_name, says, READ_RECORDS, group))
    numbers = "The series, and what a restore leaves to confirm."
    bring("Lab", Section("Certificate numbers", "certificate-numbers", numbers, CONFIRM_NUMBERS, DOCUMENTS))
