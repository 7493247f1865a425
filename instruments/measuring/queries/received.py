"""Reads of what the laboratory has in hand: gauges received and not under way, sessions and how far they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, F, OuterRef, QuerySet, Subquery

from instruments.inventory.models import CustodyEvent, Gauge
from instruments.measuring.models import Point, Reading, Run, Session
from instruments.measuring.queries.sessions import UNDER_WAY, sessions
from instruments.procedures.queries import content_of, revisions_in_force
from labsys.laboratory.models import Family

MOST = 200
"""Gauges and sessions listed at once; a laboratory with more in hand narrows its list of gauges."""

Kind = CustodyEvent.Kind


@dataclass(frozen=True)
class InHand:
    """A gauge that the laboratory has and nobody measures: since when, its last step, when it has soaked.

    ``ready_at`` is None where no procedure of its family is in force.
    """

    gauge: Gauge
    received_at: datetime
    step: str
    waits_for: str
    ready_at: datetime | None

    def minutes_left(self, now: datetime) -> int:
        """Give the whole minutes until the gauge has the temperature of the room; 0 when it has."""
        if self.ready_at is None or self.ready_at <= now:
            return 0
        return -(-int((self.ready_at - now).total_seconds()) // 60)

    @property
    def due_on(self) -> date | None:
        """Give the last day on which the gauge may be used; None where it has none."""
        standing = getattr(self.gauge, "standing", None)
        return None if standing is None else standing.valid_until

    @property
    def waits_for_whom(self) -> str:
        """Name what or whom it waits for."""
        return CustodyEvent.WaitsFor(self.waits_for).label

    @property
    def is_waiting(self) -> bool:
        """Say whether it waits for something or somebody."""
        return self.step == Kind.WAITING

    @property
    def is_released(self) -> bool:
        """Say whether it may go back to its owner."""
        return self.step == Kind.RELEASED


@dataclass(frozen=True)
class Progress:
    """How far the newest run of a session is."""

    stage: str
    done: int
    planned: int


def in_hand(now: datetime) -> list[InHand]:
    """List the gauges in the laboratory without a session under way, those due first at the head."""
    steps = CustodyEvent.objects.filter(gauge=OuterRef("pk")).order_by("-at", "-pk")
    rows = (
        Gauge.objects.filter(standing__in_laboratory=True)
        .exclude(Exists(Session.objects.filter(gauge=OuterRef("pk"), state__in=UNDER_WAY)))
        .select_related("tag", "model__family", "department", "standing")
        .annotate(
            step=Subquery(steps.values("kind")[:1]),
            waits_for=Subquery(steps.values("waits_for")[:1]),
            came_at=Subquery(steps.filter(kind=Kind.RECEIVED).values("at")[:1]),
        )
        .filter(came_at__isnull=False)
        .order_by(F("standing__valid_until").asc(nulls_first=True), "came_at", "pk")[:MOST]
    )
    found = list(rows)
    soak = soak_times({row.model.family for row in found}, now)
    return [_in_hand(row, soak.get(row.model.family_id)) for row in found]


def soak_times(families: Iterable[Family], now: datetime) -> dict[int, timedelta]:
    """Give how long a gauge of each family has to lie in the room, by the procedure in force; none where none is."""
    return {
        family: timedelta(minutes=content_of(revision).conditions.soak_minutes)
        for family, revision in revisions_in_force(families, now).items()
    }


def _in_hand(row: Gauge, soak: timedelta | None) -> InHand:
    came_at: datetime = row.came_at  # type: ignore[attr-defined]
    return InHand(
        gauge=row,
        received_at=came_at,
        step=row.step,  # type: ignore[attr-defined]
        waits_for=row.waits_for,  # type: ignore[attr-defined]
        ready_at=None if soak is None else came_at + soak,
    )


def at_the_bench() -> QuerySet[Session]:
    """Find the sessions that take readings now, those given back first, then the ones that wait longest."""
    rows = sessions().filter(state__in=(Session.State.OPEN, Session.State.RETURNED)).select_related("place")
    return rows.order_by(F("state").desc(), "opened_at", "pk")[:MOST]


def progress_of(found: Iterable[Session]) -> dict[int, Progress]:
    """Say how far the newest run of each session is; two queries, whatever their number."""
    runs: dict[int, Run] = {}
    for run in Run.objects.filter(session__in=list(found)).order_by("opened_at", "pk"):
        runs[run.session_id] = run
    counting = Reading.objects.filter(point=OuterRef("pk"), strike=None)
    points = Point.objects.filter(run__in=runs.values(), void=None).annotate(is_read=Exists(counting))
    reads: dict[int, list[bool]] = defaultdict(list)
    for run_id, is_read in points.values_list("run_id", "is_read"):
        reads[run_id].append(is_read)
    return {
        session_id: Progress(run.get_stage_display(), sum(reads[run.pk]), len(reads[run.pk]))
        for session_id, run in runs.items()
    }
