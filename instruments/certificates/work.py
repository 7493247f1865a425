"""The session's own link of the chain: who measured, by which revision, in which room (L9; 17025, 6.2, 7.2 and 6.3).

Lives here: reads of what is on record now about the moments of the work. It refuses nothing.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from datetime import datetime

from django.db.models import QuerySet

from instruments.measuring.models import Deviation, Reading, Run, Session
from instruments.measuring.open_items import OpenItem, room_items
from instruments.procedures.queries import content_of, revision_in_force
from labsys.accounts.models import Activity, Authorisation, Person
from labsys.accounts.queries import authorisation_in_force
from labsys.laboratory.models import Family
from labsys.laboratory.queries import local_date, start_of_day
from standards.traceability.queries.shapes import Fault, LinkCheck, judged

CODE, WORD = "L9", "person, method and room"
ROOM, PERSON, METHOD = "F15", "F16", "F17"


def link_of(session: Session) -> LinkCheck:
    """Check that everybody was authorised at each reading, the revision was in force, the room kept or accepted."""
    rows = Reading.objects.filter(point__run__session=session, point__void=None)
    readings = list(rows.select_related("read_by").order_by("measured_at", "pk"))
    if not readings:
        return LinkCheck(CODE, WORD, None, "Nothing was read, so there is nothing to check.")
    deviations = {row.rule: row for row in session.deviations.select_related("accepted_by")}
    content = content_of(session.revision)
    room = [item for run in _runs(session) for item in room_items(run, content)]
    faults = [
        *_people(session, readings),
        *_method(session, readings),
        *(_fault(session, ROOM, item.sentence) for item in room if item.code not in deviations),
    ]
    names = ", ".join(dict.fromkeys(reading.read_by.name for reading in readings))
    fine = f"{names} authorised at every reading, {session.revision} in force, {_room(room, deviations)}."
    return judged(CODE, WORD, list(dict.fromkeys(faults)), fine)


def _runs(session: Session) -> QuerySet[Run]:
    rows = session.runs.prefetch_related("zero_checks", "conditions__span", "conditions__sensor__tag")
    return rows.order_by("pk")


def _fault(session: Session, code: str, sentence: str) -> Fault:
    return Fault(code, sentence, "block", f"session:{session.pk}")


def _people(session: Session, readings: list[Reading]) -> Iterator[Fault]:
    """Give one fault per person and day on which a reading was taken without authority."""
    family = session.gauge.model.family
    for person in dict.fromkeys(reading.read_by for reading in readings):
        times = [reading.measured_at for reading in readings if reading.read_by == person]
        for at in _telling(person, family, times):
            if authorisation_in_force(person, Activity.MEASURE, family, at) is None:
                said = f"{person.name} was not authorised to measure {family} on {local_date(at):%Y-%m-%d}."
                yield _fault(session, PERSON, said)


def _telling(person: Person, family: Family, times: list[datetime]) -> Iterable[datetime]:
    """Thin the times out to those that can differ: an authority changes at a row's instant and at the end of a day."""
    rows = Authorisation.objects.filter(person=person, activity=str(Activity.MEASURE), family=family)
    changes = sorted(
        rows.filter(valid_from__range=(times[0], times[-1])).values_list("valid_from", flat=True)
    )
    return {(local_date(at), bisect_right(changes, at)): at for at in times}.values()


def _method(session: Session, readings: list[Reading]) -> Iterator[Fault]:
    """Check each day; a session opened under a revision may end the day under it, whatever was approved meanwhile."""
    for day in dict.fromkeys(local_date(reading.measured_at) for reading in readings):
        since = max(start_of_day(day), session.opened_at)
        if revision_in_force(session.gauge.model.family, since) != session.revision:
            yield _fault(session, METHOD, f"{session.revision} was not in force on {day:%Y-%m-%d}.")


def _room(items: list[OpenItem], deviations: dict[str, Deviation]) -> str:
    if not items:
        return "the room within its limits"
    said = dict.fromkeys(
        f"{item.sentence.rstrip('.')} (accepted by {row.accepted_by.name}: {row.reason.rstrip('.')})"
        for item in items
        if (row := deviations.get(item.code))
    )
    return "; ".join(said)
