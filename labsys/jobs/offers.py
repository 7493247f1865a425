"""What jobs bring to the pages, said once at start: sections of the Lab, names for the journal."""

from __future__ import annotations

from labsys.jobs.access import MANAGE_MESSAGES
from labsys.jobs.queries import titles_of
from labsys.journal import subjects
from labsys.pages.sections import Section
from labsys.pages.sections import register as bring

GROUP = "The program's run"


def offer() -> None:
    """Register everything."""
    jobs = Section("Jobs", "jobs", "What ran, what failed, what is owed.", MANAGE_MESSAGES, GROUP)
    messages = Section(
        "Messages", "messages", "What went out, and what a person must decide about.", MANAGE_MESSAGES, GROUP
    )
    for section in (jobs, messages):
        bring("Lab", section)
    subjects.register(subjects.Kind("notice", "message", "", titles_of))
