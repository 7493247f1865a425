"""How long the gauge of a session has lain in the room, against what its procedure asks for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from instruments.inventory.models import CustodyEvent
from instruments.measuring.models import Run, Session
from instruments.measuring.models.rooms import SoakNote
from instruments.measuring.rooms import first_reading
from instruments.procedures.content import Content


@dataclass(frozen=True)
class Soak:
    """Since when the gauge takes the room's temperature, for how long it has to, and why work went on before.

    ``is_laid``: since it was laid beside the standards; otherwise since it was received. ``first_reading`` is None
    while nothing was read.
    """

    began_at: datetime
    is_laid: bool
    wanted: timedelta
    early: SoakNote | None
    first_reading: datetime | None

    @property
    def ready_at(self) -> datetime:
        """Give when the time is up."""
        return self.began_at + self.wanted

    def left(self, now: datetime) -> timedelta:
        """Give how long it still has to lie there; nothing once it was read."""
        if self.first_reading is not None:
            return timedelta(0)
        return max(self.ready_at - now, timedelta(0))

    @property
    def cut_short_at(self) -> datetime | None:
        """Give when work went on before the time was up: at the first reading, or where that was said beforehand."""
        ended = self.first_reading or (self.early.at if self.early else None)
        return ended if ended is not None and ended < self.ready_at else None

    @property
    def minutes_had(self) -> int:
        """Give the whole minutes it had until work went on; 0 where that was before it was laid down."""
        ended = self.cut_short_at or self.ready_at
        return max(0, int((ended - self.began_at).total_seconds() // 60))


def soak_of(run: Run, content: Content) -> Soak:
    """Read how long the gauge of a run has lain in the room."""
    session = run.session
    notes = list(SoakNote.objects.filter(session=session).select_related("by"))
    laid = next((note.since for note in reversed(notes) if note.kind == SoakNote.Kind.LAID), None)
    laid = laid or _laid_before(session)
    return Soak(
        began_at=laid or session.received_at,
        is_laid=laid is not None,
        wanted=timedelta(minutes=content.conditions.soak_minutes),
        early=next((note for note in reversed(notes) if note.kind == SoakNote.Kind.EARLY), None),
        first_reading=first_reading(run),
    )


def _laid_before(session: Session) -> datetime | None:
    """Find when the gauge was laid down on its way through the laboratory, before the session was opened."""
    steps = CustodyEvent.objects.filter(gauge=session.gauge_id, kind=CustodyEvent.Kind.SOAKING)
    span = (session.received_at, session.opened_at)
    return steps.filter(at__range=span).order_by("-at").values_list("at", flat=True).first()


def soak_sentence(soak: Soak) -> str:
    """Say how long the gauge had, and why work went on; empty where the time was up or nothing was read yet."""
    if soak.cut_short_at is None:
        return ""
    wanted = int(soak.wanted.total_seconds() // 60)
    said = f"The gauge had {soak.minutes_had} of {wanted} minutes to reach the room."
    if soak.early is None:
        return said
    return f"{said} Going on before, {soak.early.by.name}: {soak.early.reason}"
