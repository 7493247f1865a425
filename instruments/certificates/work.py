"""The session's own link of the chain: who measured, by which revision, in which room (L9)."""

from __future__ import annotations

from datetime import datetime

from instruments.measuring.models import Condition, Reading, Session
from instruments.procedures.queries import content_of
from labsys.accounts.models import Activity
from labsys.accounts.queries import authorisation_in_force
from labsys.laboratory.queries import local_date
from standards.traceability.queries.shapes import LinkCheck

CODE, WORD = "L9", "person, method and room"


def link_of(session: Session) -> LinkCheck:
    """Check at the first and last reading of each person: authorised, the revision in force, the room in its limits."""
    readings = list(
        Reading.objects.filter(point__run__session=session, point__void=None)
        .select_related("read_by")
        .order_by("measured_at")
    )
    if not readings:
        return LinkCheck(CODE, WORD, None, "Nothing was read, so there is nothing to check.")
    against = [*_people(session, readings), *_method(session, readings[0].measured_at), *_room(session)]
    if against:
        return LinkCheck(CODE, WORD, False, " ".join(against))
    names = ", ".join(dict.fromkeys(reading.read_by.name for reading in readings))
    return LinkCheck(
        CODE, WORD, True, f"{names} authorised, {session.revision} in force, the room within its limits."
    )


def _people(session: Session, readings: list[Reading]) -> list[str]:
    family, said = session.gauge.model.family, []
    for person in dict.fromkeys(reading.read_by for reading in readings):
        mine = [reading.measured_at for reading in readings if reading.read_by_id == person.pk]
        if any(
            authorisation_in_force(person, Activity.MEASURE, family, at) is None for at in (mine[0], mine[-1])
        ):
            said.append(f"{person.name} was not authorised to measure on {local_date(mine[0]):%Y-%m-%d}.")
    return said


def _method(session: Session, at: datetime) -> list[str]:
    revision = session.revision
    approved, retired = revision.approved_at, revision.retired_at
    in_force = approved is not None and approved <= at and (retired is None or retired > session.opened_at)
    return [] if in_force else [f"{revision} was not in force on {local_date(at):%Y-%m-%d}."]


def _room(session: Session) -> list[str]:
    """Look at every note of the room; what the reviewer accepted with a reason is no fault."""
    rows = list(Condition.objects.filter(run__session=session))
    if not rows:
        return ["The room was not noted."]
    limits = content_of(session.revision).conditions
    accepted = set(session.deviations.values_list("rule", flat=True))
    outside = [
        row for row in rows if not limits.temperature_low_c <= row.temperature_c <= limits.temperature_high_c
    ]
    return (
        [f"{outside[0].temperature_c:.1f} °C lies outside the procedure's limits."]
        if (outside and "temperature-out" not in accepted)
        else []
    )
