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
    at: SeatPoint


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
        return sum(place.at.is_done for place in self.places)


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
    return SeatShown(table, seat, lead_from(table, seat, here), other)


def lead_from(table: Table, seat: Seat, point_id: int | None) -> Lead | None:
    """Find where to go on from a gauge, and from the point it is read at.

    The same set-up at the next gauge; then a gauge that isn't prepared yet; then the next set-up; then the closing
    zeros, and what is to be handed in. None where this gauge's own preparation isn't done.
    """
    if seat.is_open and not seat.is_rejected and seat.before:
        return None
    others = _after(table.seats, seat)
    set_up = next((one.set_up for one in seat.points if one.point.pk == point_id), None)
    same = _at(others, set_up) if set_up is not None else None
    return same or _preparing(others) or _next_set_up(table, set_up) or _closing([*others, seat])


def lead_in(table: Table) -> Lead | None:
    """Find where the sitting goes on for who comes to its own page; None where nothing is left."""
    first = _preparing(table.seats)
    if first is not None:
        return first
    for set_up in table.set_ups:
        if (found := _at(table.seats, set_up)) is not None:
            return found
    return _closing(table.seats)


def _after(seats: Sequence[Seat], seat: Seat) -> list[Seat]:
    place = seats.index(seat)
    return [*seats[place + 1 :], *seats[:place]]


def _at(seats: Iterable[Seat], set_up: SetUp) -> Lead | None:
    for seat in seats:
        lacking = seat.lacking_at(set_up)
        if lacking is not None:
            return Lead(seat, f"point={lacking.point.pk}", f"{seat.session.gauge}, {_name(seat, lacking)}")
    return None


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
    places = tuple(
        Place(seat, point) for seat in table.seats for point in seat.points if point.set_up == set_up
    )
    first = places[0]
    return SetUpLine(_name(first.seat, first.at), _references(first.at), places, is_next)


def _name(seat: Seat, at: SeatPoint) -> str:
    session = seat.session
    return words.point(at.point, session.gauge.model.unit, content_of(session.revision))


def _references(at: SeatPoint) -> str:
    return ", ".join(_reference(row) for row in at.point.references.all())


def _reference(row: PointReference) -> str:
    element = row.element_value.element
    times = f" × {row.count}" if row.count > 1 else ""
    return f"{element.standard.tag.text} {element.label}{times}"
