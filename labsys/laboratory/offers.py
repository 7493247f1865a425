"""What the laboratory brings to the pages, said once at start: the Lab place, its sections, names for the journal."""

from __future__ import annotations

from functools import partial

from labsys.journal import subjects
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.models import Agreement, Department, Family, Place, Tag
from labsys.laboratory.queries import names_of
from labsys.pages import places
from labsys.pages.sections import Section
from labsys.pages.sections import register as bring

GROUP = "What was settled"
SECTIONS = (
    ("Agreements", "agreements", "Rule, limits, adjusting, due dates: by department and family."),
    ("Departments", "departments", "Who owns gauges, and whom to ask there."),
    ("Places", "places", "Where gauges belong and where work is done."),
    ("Families", "families", "Families of gauges, their bench hours, the interval they begin with."),
    ("Bench hours", "capacity", "How many hours the benches have in a week."),
    ("Arithmetic", "arithmetic", "Ask it a question of your own, and hold it against published answers."),
    ("The laboratory", "details", "What stands on documents, and whether a second person signs."),
)


def offer() -> None:
    """Register everything; the help on the Lab stands with the pages."""
    places.register(name="Lab", url_name="lab", permission=READ_RECORDS)
    for name, url_name, says in SECTIONS:
        bring("Lab", Section(name, url_name, says, READ_RECORDS, GROUP))
    for kind, noun, address, model in (
        ("department", "department", "", Department),
        ("place", "place", "", Place),
        ("family", "family", "", Family),
        ("agreement", "agreement", "agreement", Agreement),
        ("tag", "tag", "", Tag),
    ):
        subjects.register(subjects.Kind(kind, noun, address, partial(names_of, model)))
