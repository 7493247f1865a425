"""Reads of a sitting: how far each of its gauges is, and which set-ups they share.

Ten queries for the whole table, however many gauges sit at it. What is told of the gauges here is less than their own
pages know: a point counts as read once it has the readings that the procedure asks for, and a repeat that an error
asks for is asked at the gauge itself, before the page leads on.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.db.models import Count, Max, Prefetch, Q, QuerySet

from instruments.measuring.models import (
    Arrival,
    Condition,
    Point,
    PointReference,
    Run,
    Session,
    Sitting,
    ZeroCheck,
)
from instruments.measuring.open_items import looks_of
from instruments.measuring.queries.sessions import sessions
from instruments.measuring.rejecting import failed_looks
from instruments.measuring.zeros import has_zero, is_fixed
from instruments.procedures.content import Content
from instruments.procedures.queries import content_of
from labsys.accounts.models import Person

TAKES_READINGS = (Session.State.OPEN, Session.State.RETURNED)
MOST = 20
"""Sittings under way that are listed at once."""


class Left(StrEnum):
    """What a gauge of a sitting still wants before its points, or after them."""

    LOOKS = "looks"
    ROOM = "room"
    ZERO_FOUND = "zero-as-found"
    ZERO_SET = "zero-set"
    CLOSING = "closing-zero"

    @property
    def words(self) -> str:
        """Name it as a sentence does."""
        return {"room": "the room", "zero-as-found": "zero as found"}.get(
            self.value, self.value.replace("-", " ")
        )


@dataclass(frozen=True)
class SetUp:
    """What is set up once for all gauges: references, function or series, place, member.

    ``elements`` are the ids of the reference elements and how often each is taken, ascending. The lengths that one
    reference gives (the spindle of a tester) are one set-up, and so are both directions: an indicator that is taken
    out between going up and coming down has lost what the two are compared for.
    """

    function: str
    place: str
    member: str
    elements: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class SeatPoint:
    """A point of one gauge at a set-up: how many readings count, how many the procedure asks for."""

    point: Point
    set_up: SetUp
    read: int
    wanted: int

    @property
    def is_done(self) -> bool:
        """Say whether it has its readings."""
        return self.read >= self.wanted


@dataclass(frozen=True)
class Seat:
    """One gauge of a sitting: its session, its number at the table, what it still wants.

    ``stays`` where its zero is set on a reference, as a comparator's is: taken out of its stand it has lost that zero,
    so everything from the zero to the closing one is read in one go.
    """

    number: int
    session: Session
    run: Run
    before: tuple[Left, ...]
    points: tuple[SeatPoint, ...]
    wants_closing: bool
    is_rejected: bool
    stays: bool

    @property
    def is_open(self) -> bool:
        """Say whether its session takes readings."""
        return self.session.state in TAKES_READINGS

    @property
    def is_ready(self) -> bool:
        """Say whether its points may be read: looks, room and zero are behind it."""
        return self.is_open and not self.is_rejected and not self.before

    @property
    def next_words(self) -> str:
        """Name what comes first of what it wants before its points; empty for nothing."""
        return self.before[0].words if self.before else ""

    @property
    def is_read(self) -> bool:
        """Say whether all its points are read."""
        return all(point.is_done for point in self.points)

    @property
    def done(self) -> int:
        """Count its points that are read."""
        return sum(point.is_done for point in self.points)

    def at(self, set_up: SetUp) -> tuple[SeatPoint, ...]:
        """Give its points at a set-up, in the order of the plan."""
        return tuple(one for one in self.points if one.set_up == set_up)

    def lacking_at(self, set_up: SetUp, but: int | None = None) -> SeatPoint | None:
        """Find its first unread point at a set-up, ``but`` left out, where the gauge may be read now."""
        if not self.is_ready:
            return None
        lacking = (one for one in self.at(set_up) if not one.is_done and one.point.pk != but)
        return next(lacking, None)


@dataclass(frozen=True)
class Table:
    """A sitting as it stands: the seats in their order and the set-ups in theirs."""

    sitting: Sitting
    seats: tuple[Seat, ...]

    @property
    def set_ups(self) -> tuple[SetUp, ...]:
        """List the set-ups, each once, in the order in which the points were planned."""
        return tuple(dict.fromkeys(point.set_up for seat in self.seats for point in seat.points))

    def seat_of(self, session_id: int) -> Seat | None:
        """Find the seat of a session."""
        return next((seat for seat in self.seats if seat.session.pk == session_id), None)


def table_of(sitting: Sitting) -> Table:
    """Read a sitting with everything its page and its leading need."""
    found = list(sessions().filter(sitting=sitting).select_related("gauge__model__family").order_by("pk"))
    runs = _newest_runs(found)
    points = _points(runs.values())
    content = content_of(found[0].revision) if found else None
    seats = tuple(
        _seat(number, session, runs[session.pk], points.get(runs[session.pk].pk, []), content)
        for number, session in enumerate(found, start=1)
        if content is not None
    )
    return Table(sitting, seats)


def _newest_runs(found: Iterable[Session]) -> dict[int, Run]:
    by_session = {session.pk: session for session in found}
    rows = Run.objects.filter(session__in=by_session).order_by("opened_at", "pk")
    runs = {run.session_id: run for run in rows.prefetch_related("checks", "zero_checks", "conditions")}
    for run in runs.values():
        run.session = by_session[run.session_id]
    return runs


def _points(runs: Iterable[Run]) -> dict[int, list[Point]]:
    counting = Q(readings__isnull=False, readings__strike=None)
    references = PointReference.objects.select_related("element_value__element__standard__tag")
    rows = (
        Point.objects.filter(run__in=list(runs), void=None)
        .select_related("member")
        .prefetch_related(Prefetch("references", references.order_by("pk")))
        .annotate(read=Count("readings", filter=counting), read_last=Max("readings__measured_at"))
        .order_by("run", "sequence", "attempt")
    )
    found: dict[int, list[Point]] = {}
    for row in rows:
        found.setdefault(row.run_id, []).append(row)
    return found


def _seat(number: int, session: Session, run: Run, points: list[Point], content: Content) -> Seat:
    ends_job = {look.code for look in content.looks if look.ends_job}
    return Seat(
        number=number,
        session=session,
        run=run,
        before=tuple(_before(run, content)),
        points=tuple(
            SeatPoint(one, _set_up(one), _read(one), content.repeats_at(one.function)) for one in points
        ),
        wants_closing=has_zero(content) and not _is_closed(run, points),
        is_rejected=any(check.code in ends_job for check in failed_looks(run)),
        stays=content.zero.how == "reference",
    )


def _before(run: Run, content: Content) -> Iterable[Left]:
    answered = {check.code for check in run.checks.all()}
    if any(look.code not in answered for look in looks_of(run, content)):
        yield Left.LOOKS
    if not run.conditions.all():
        yield Left.ROOM
    if not has_zero(content):
        return
    kinds = {check.kind for check in run.zero_checks.all()}
    if ZeroCheck.Kind.AS_FOUND not in kinds:
        yield Left.ZERO_FOUND
    if ZeroCheck.Kind.SET not in kinds and not is_fixed(run.session.gauge.model, content):
        yield Left.ZERO_SET


def _is_closed(run: Run, points: list[Point]) -> bool:
    closings = [check.at for check in run.zero_checks.all() if check.kind == ZeroCheck.Kind.CLOSING]
    last: datetime | None = max((at for one in points if (at := _read_last(one))), default=None)
    return bool(closings) and (last is None or max(closings) >= last)


def _set_up(point: Point) -> SetUp:
    taken = sorted((row.element_value.element_id, row.count) for row in point.references.all())
    return SetUp(
        function=point.function,
        place=point.place,
        member=point.member.label if point.member else "",
        elements=tuple(taken),
    )


def _read(point: Point) -> int:
    count: int = point.read  # type: ignore[attr-defined]
    return count


def _read_last(point: Point) -> datetime | None:
    at: datetime | None = point.read_last  # type: ignore[attr-defined]
    return at


_TYPED = (Arrival.Kind.READING, Arrival.Kind.ZERO, Arrival.Kind.ANSWER)


def last_typed_into(sitting: Sitting, person: Person) -> int | None:
    """Find the session of the sitting into which somebody typed last; what was noted for all of them isn't typed."""
    rows = Arrival.objects.filter(session__sitting=sitting, by=person, kind__in=_TYPED).order_by("-pk")
    return rows.values_list("session", flat=True).first()


def sittings_under_way() -> QuerySet[Sitting]:
    """Find the sittings of which a session still takes readings, the newest first, with how many of how many do."""
    is_open = Q(sessions__state__in=TAKES_READINGS)
    rows = Sitting.objects.select_related("by", "place")
    counted = rows.annotate(open_count=Count("sessions", filter=is_open), count=Count("sessions"))
    return counted.filter(open_count__gt=0).order_by("-opened_at", "-pk")[:MOST]


def open_runs(sitting: Sitting) -> list[Run]:
    """List the runs that take readings now, one for each open session of the sitting, in the order of the seats."""
    found = Session.objects.filter(sitting=sitting, state__in=TAKES_READINGS).order_by("pk")
    runs = _newest_runs(found)
    return [runs[session.pk] for session in found if session.pk in runs]


def conditions_of(sitting: Sitting) -> QuerySet[Condition]:
    """Find what was noted of the room in the sessions of a sitting, the newest first."""
    return Condition.objects.filter(run__session__sitting=sitting).select_related("by").order_by("-at", "-pk")
