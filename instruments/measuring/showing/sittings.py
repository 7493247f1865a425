"""A sitting as its pages show it: where to go on, set-up after set-up, and which gauge lies on the bench now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from instruments.measuring.models import PointReference
from instruments.measuring.queries.sittings import (
    Left,
    Seat,
    SeatPoint,
    SetUp,
    Table,
    last_typed_into,
    table_of,
)
from instruments.measuring.showing import words
from instruments.measuring.showing.page import Page
from instruments.procedures.queries import content_of
from labsys.accounts.models import Person


@dataclass(frozen=True)
class Lead:
    """Where the sitting goes on: the gauge, what its page is asked for, and the words of the link."""

    seat: Seat
    query: str
    words: str


@dataclass(frozen=True)
class Place:
    """One gauge at one set-up, as the list shows it."""

    seat: Seat
    points: tuple[SeatPoint, ...]

    @property
    def done(self) -> int:
        """Count its points there that are read."""
        return sum(point.is_done for point in self.points)

    @property
    def is_done(self) -> bool:
        """Say whether all of them are."""
        return self.done == len(self.points)

    @property
    def point_id(self) -> int:
        """Give the point to go to: the first unread one, or the first."""
        return next((one.point.pk for one in self.points if not one.is_done), self.points[0].point.pk)


@dataclass(frozen=True)
class SetUpLine:
    """A set-up as the list shows it: its name, what to take, the gauges in turn; ``is_next`` for the one to do now."""

    name: str
    references: str
    places: tuple[Place, ...]
    is_next: bool

    @property
    def done(self) -> int:
        """Count the gauges that were read on it."""
        return sum(place.is_done for place in self.places)


@dataclass(frozen=True)
class SeatShown:
    """What the page of a session shows of its sitting; ``other`` is the gauge that was typed into before, if another.

    ``lead`` is where the sitting goes on from this page; None where the gauge's own steps come first.
    """

    table: Table
    seat: Seat
    lead: Lead | None
    other: Seat | None

    @property
    def leads_away(self) -> bool:
        """Say whether the way on leads to another gauge."""
        return self.lead is not None and self.lead.seat is not self.seat


def seat_shown(page: Page, person: Person) -> SeatShown | None:
    """Say where the session of a page sits; None where it was opened by itself."""
    sitting = page.session.sitting
    if sitting is None:
        return None
    table = table_of(sitting)
    seat = table.seat_of(page.session.pk)
    if seat is None:
        return None
    before = last_typed_into(sitting, person)
    other = table.seat_of(before) if before not in (None, seat.session.pk) else None
    here = page.target.point.point.pk if page.target and page.target.point else None
    lead = lead_from(table, seat, here)
    if lead is not None and lead.seat is seat and lead.query == f"point={here}":
        lead = None  # nothing is left but what stands here
    return SeatShown(table, seat, lead, other)


def lead_from(table: Table, seat: Seat, point_id: int | None) -> Lead | None:
    """Find where to go on from a gauge, and from the point it is read at.

    What this gauge still wants of the set-up; the same set-up at the next gauge; then a gauge that isn't prepared yet;
    then the next set-up; then the closing zeros, and what is to be handed in. None where this gauge's own preparation
    isn't done. A gauge that has to stay where it is set is read to its end before any other.
    """
    if seat.is_open and not seat.is_rejected and seat.before:
        return None
    if seat.stays and (rest := _rest(seat, point_id)) is not None:
        return rest
    others = _after(table.seats, seat)
    set_up = next((one.set_up for one in seat.points if one.point.pk == point_id), None)
    same = _at([seat, *others], set_up, but=point_id) if set_up is not None else None
    return same or _preparing(others) or _next_set_up(table, set_up) or _closing([*others, seat])


def lead_in(table: Table) -> Lead | None:
    """Find where the sitting goes on for who comes to its own page; None where nothing is left."""
    begun = (_rest(seat, None) for seat in table.seats if seat.stays)
    first = next((lead for lead in begun if lead is not None), None) or _preparing(table.seats)
    if first is not None:
        return first
    for set_up in table.set_ups:
        if (found := _at(table.seats, set_up)) is not None:
            return found
    return _closing(table.seats)


def _after(seats: Sequence[Seat], seat: Seat) -> list[Seat]:
    place = seats.index(seat)
    return [*seats[place + 1 :], *seats[:place]]


def _at(seats: Iterable[Seat], set_up: SetUp, but: int | None = None) -> Lead | None:
    for seat in seats:
        lacking = seat.lacking_at(set_up, but)
        if lacking is not None:
            return Lead(seat, f"point={lacking.point.pk}", f"{seat.session.gauge}, {_name(seat, lacking)}")
    return None


def _rest(seat: Seat, but: int | None) -> Lead | None:
    """Find what a gauge still wants that must not be taken out meanwhile."""
    if not seat.is_ready:
        return None
    lacking = next((one for one in seat.points if not one.is_done and one.point.pk != but), None)
    if lacking is not None:
        return Lead(seat, f"point={lacking.point.pk}", f"{seat.session.gauge}, {_name(seat, lacking)}")
    return _closing([seat]) if seat.is_read and seat.wants_closing else None


def _preparing(seats: Iterable[Seat]) -> Lead | None:
    for seat in seats:
        if seat.is_open and not seat.is_rejected and seat.before:
            # No step is named: the gauge's own page knows whether it still has to lie in the room.
            return Lead(seat, "", f"{seat.session.gauge}, {seat.next_words}")
    return None


def _next_set_up(table: Table, here: SetUp | None) -> Lead | None:
    order = table.set_ups
    start = order.index(here) + 1 if here in order else 0
    found = (_at(table.seats, set_up) for set_up in (*order[start:], *order[:start]))
    return next((lead for lead in found if lead is not None), None)


def _closing(seats: Iterable[Seat]) -> Lead | None:
    seats = list(seats)
    for seat in seats:
        if seat.is_ready and seat.is_read and seat.wants_closing:
            return Lead(seat, f"step={Left.CLOSING.value}", f"{seat.session.gauge}, {Left.CLOSING.words}")
    for seat in seats:
        if seat.is_open:
            return Lead(seat, "step=hand-in", f"{seat.session.gauge}, hand in")
    return None


def set_up_lines(table: Table) -> tuple[SetUpLine, ...]:
    """List the set-ups with their gauges in turn."""
    now = next((one for one in table.set_ups if _at(table.seats, one)), None)
    return tuple(_line(table, set_up, is_next=set_up == now) for set_up in table.set_ups)


def _line(table: Table, set_up: SetUp, *, is_next: bool) -> SetUpLine:
    places = tuple(Place(seat, points) for seat in table.seats if (points := seat.at(set_up)))
    first = places[0]
    name = _name(first.seat, first.points[0]) if len(first.points) == 1 else _name_of_several(first)
    return SetUpLine(name, _references(first.points[0]), places, is_next)


def _name_of_several(place: Place) -> str:
    function = place.points[0].point.function
    content = content_of(place.seat.session.revision)
    named = (
        content.name_of(function) if content.series_of(function) else words.function(function).capitalize()
    )
    return f"{named}, {len(place.points)} points"


def _name(seat: Seat, at: SeatPoint) -> str:
    session = seat.session
    return words.point(at.point, session.gauge.model.unit, content_of(session.revision))


def _references(at: SeatPoint) -> str:
    return ", ".join(_reference(row) for row in at.point.references.all())


def _reference(row: PointReference) -> str:
    element = row.element_value.element
    times = f" × {row.count}" if row.count > 1 else ""
    return f"{element.standard.tag.text} {element.label}{times}"
