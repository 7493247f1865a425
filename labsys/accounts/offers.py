"""What people bring to the pages, said once at start: the own account, sections of the Lab, names for the journal."""

from __future__ import annotations

from labsys.accounts import queries
from labsys.accounts.adapter import listen
from labsys.journal import subjects
from labsys.journal.access import READ_RECORDS
from labsys.pages import help
from labsys.pages.sections import Section
from labsys.pages.sections import register as bring

GROUP = "People"


def offer() -> None:
    """Register everything; the help on signing in stands with the pages."""
    bring(
        "Lab",
        Section(
            "People", "people", "Who has an account, which roles, when something lapses.", READ_RECORDS, GROUP
        ),
    )
    bring(
        "Lab",
        Section(
            "Authorisations",
            "authorisations",
            "Who may measure, review, sign and approve, family by family, today or on any day.",
            READ_RECORDS,
            GROUP,
        ),
    )
    subjects.register(subjects.Kind("person", "person", "person", queries.names_of, queries.people_called))
    help.register(slug="people", title="People", template="labsys/help/people.html", prefix="/lab/people/")
    listen()
