"""Acts on the time in which the gauge takes the room's temperature: laid down, or not waited for, with the reason."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from instruments.measuring.access import MEASURE
from instruments.measuring.models import Session
from instruments.measuring.models.rooms import SoakNote
from instruments.measuring.operations.gate import require_open, require_reason
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require
from labsys.laboratory.queries import local_time


class LaidAtImpossibleTime(LabError, ValueError):
    """A gauge is laid beside the standards after it came and before now."""

    code: ClassVar[str] = "laid-at-impossible-time"
    sentence: ClassVar[str] = (
        "Expected a time from {received}, when the gauge was received, to {now}, found {found}."
    )
    field: ClassVar[str | None] = "since"


@act("measuring.note-laid")
def note_laid(*, session: Session, since: datetime, by: Person, now: datetime) -> SoakNote:
    """Note since when the gauge lies beside the standards; raises LaidAtImpossibleTime."""
    session = _open_session(session, by, now)
    if not session.received_at <= since <= now:
        raise LaidAtImpossibleTime(
            received=local_time(session.received_at),
            now=local_time(now),
            found=local_time(since),
        )
    return _note(session, SoakNote.Kind.LAID, since, "", by, now)


@act("measuring.go-on-early")
def go_on_early(*, session: Session, reason: str, by: Person, now: datetime) -> SoakNote:
    """Go on before the time is up, with the reason; what is read then is for the reviewer to accept.

    Raises ReasonMissing.
    """
    session = _open_session(session, by, now)
    require_reason(reason, "going on before the gauge has the room's temperature")
    return _note(session, SoakNote.Kind.EARLY, now, reason.strip()[:200], by, now)


def _open_session(session: Session, by: Person, now: datetime) -> Session:
    require(by, MEASURE)
    found = Session.objects.select_for_update(of=("self",)).get(pk=session.pk)
    require_open(found)
    require_authorised(by, Activity.MEASURE, found.gauge.model.family, now)
    return found


def _note(
    session: Session, kind: SoakNote.Kind, since: datetime, reason: str, by: Person, now: datetime
) -> SoakNote:
    row = SoakNote.objects.create(session=session, kind=kind, since=since, reason=reason, by=by, at=now)
    note(f"session:{session.pk}", reason=reason, after={"soak": kind.value, "since": since})
    return row
