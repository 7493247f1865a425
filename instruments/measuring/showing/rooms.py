"""The room of a run besides what was noted: the time the gauge has to lie in it, and what its log says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from instruments.measuring.models import Run
from instruments.measuring.queries import Bench
from instruments.measuring.room_log import gap_sentences, outside, window_of
from instruments.measuring.showing import words
from instruments.measuring.soaking import Soak, soak_of
from standards.climate.queries import RoomSpan, span_of
from standards.register.models import Standard
from standards.register.queries import usability


@dataclass(frozen=True)
class SoakShown:
    """The time in the room as the page shows it; ``left_s`` whole seconds still to go, 0 when it is up."""

    soak: Soak
    left_s: int
    is_short: bool

    @property
    def minutes_left(self) -> int:
        """Give the minutes still to go, begun ones too."""
        return -(-self.left_s // 60)

    @property
    def wanted_minutes(self) -> int:
        """Give the minutes that the procedure asks for."""
        return int(self.soak.wanted.total_seconds() // 60)

    @property
    def ready_clock(self) -> str:
        """Give when the time is up, as a time of day."""
        return words.clock(self.soak.ready_at)

    @property
    def asks_why(self) -> bool:
        """Say whether the reason for not waiting is wanted: work goes on early, and nobody has said why."""
        return self.soak.early is None and (self.left_s > 0 or self.is_short)


@dataclass(frozen=True)
class LogOffer:
    """What a thermometer of the place logged over the time that matters, and what is to be said of it."""

    sensor: Standard
    span: RoomSpan
    says: tuple[str, ...]


def soak_shown(bench: Bench, now: datetime) -> SoakShown | None:
    """Read the time in the room; None for a stage that needs none, since the gauge lay there before."""
    if bench.run.stage != Run.Stage.AS_FOUND:
        return None
    soak = soak_of(bench.run, bench.ground.content)
    left_s = int(soak.left(now).total_seconds())
    return SoakShown(soak, left_s, soak.first_reading is not None and soak.cut_short_at is not None)


def waits(bench: Bench, now: datetime) -> bool:
    """Say whether the gauge still has to lie in the room and nobody has said why not."""
    shown = soak_shown(bench, now)
    return shown is not None and shown.left_s > 0 and shown.soak.early is None


def offers(bench: Bench, now: datetime) -> tuple[LogOffer, ...]:
    """List the thermometers at the session's place whose log speaks of this run, and may be used now."""
    content = bench.ground.content
    window = window_of(bench.run, soak_of(bench.run, content), now)
    assert window is not None, "with a time given there is one"
    rows = Standard.objects.filter(kind=Standard.Kind.THERMOMETER, place=bench.session.place_id)
    found = (
        span_of(row, window.start, max(window.end, now))
        for row in rows.select_related("tag")
        if usability(row, now).ok
    )
    return tuple(
        LogOffer(span.sensor, span, (*(said for _code, said in outside(span, content)), *gap_sentences(span)))
        for span in found
        if span is not None
    )
