"""What a series aims at on one gauge: lengths, members, places and directions, before it is known what makes a length.

Lives here: from the record of a series and a gauge to aims in the order they are read. May not live here: standards.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from instruments.procedures.content import Series
from instruments.procedures.content import lengths as ways
from instruments.procedures.planner.targets import Ranged, outside_targets
from labsys.metrology.units import Unit, to_mm


@dataclass(frozen=True, slots=True)
class Piece:
    """A member of a gauge: its id, its label, its size in mm."""

    id: int
    label: str
    nominal_mm: Decimal


@dataclass(frozen=True, slots=True)
class Aim:
    """One size to measure: a length in mm (nought where none enters), and the member it belongs to."""

    length_mm: Decimal
    member: Piece | None = None


@dataclass(frozen=True, slots=True)
class Spot:
    """One point of an aim: at which place, going which way."""

    aim: Aim
    place: str
    direction: str


def aims_of(series: Series, model: Ranged, members: Sequence[Piece]) -> tuple[Aim, ...]:
    """Give the sizes that a series asks for on a gauge, ascending; a label that no member has gives none."""
    way = series.lengths
    if isinstance(way, ways.OneMember):
        return tuple(Aim(one.nominal_mm, one) for one in members if one.label == way.label)
    if isinstance(way, ways.EveryMember):
        return tuple(Aim(one.nominal_mm, one) for one in sorted(members, key=lambda one: one.nominal_mm))
    return tuple(Aim(length) for length in lengths_of(way, model))


def lengths_of(way: ways.Lengths, model: Ranged) -> tuple[Decimal, ...]:
    """Give the lengths in mm that lie within the gauge's range, ascending."""
    low, high = model.range_low_mm, model.range_high_mm
    unit = Unit(model.unit)
    if isinstance(way, ways.FixedList):
        found = _in_unit(way.mm, way.inch, unit)
        return tuple(length for length in found if low <= length <= high)
    if isinstance(way, ways.FromLow):
        added = [low + length for length in _in_unit(way.mm, way.inch, unit) if low + length <= high]
        return (low, *added) if way.with_low and low > 0 else tuple(added)
    if isinstance(way, ways.Spread):
        return outside_targets(way, model)
    if isinstance(way, ways.Segments):
        return tuple(_stretches(way.for_unit(unit), low, high))
    if isinstance(way, ways.Shares):
        return tuple(low + share * (high - low) for share in way.of_range)
    if isinstance(way, ways.InWindow):
        window = way.window
        return (window.prefer_mm or (window.from_mm + window.to_mm) / 2,)
    return (high,) if isinstance(way, ways.Nominal) else (Decimal(0),)


def spots_of(series: Series, aims: Sequence[Aim]) -> Iterator[Spot]:
    """Lay an aim out over places and directions, in the order the points are read.

    Up through all lengths, then down through them; at each length all places, or one place after the other in turn.
    """
    places, ways_of_going = series.places or ("",), series.directions or ("",)
    for direction in ways_of_going:
        ordered = list(reversed(aims)) if direction == "down" else list(aims)
        for number, aim in enumerate(ordered):
            here = places if series.each_place else (places[number % len(places)],)
            yield from (Spot(aim, place, direction) for place in here)


def _in_unit(mm: Sequence[Decimal], inch: Sequence[Decimal], unit: Unit) -> list[Decimal]:
    return [to_mm(length, Unit.IN) for length in inch] if unit is Unit.IN and inch else list(mm)


def _stretches(parts: Sequence[ways.Segment], low: Decimal, high: Decimal) -> Iterator[Decimal]:
    yield low
    at = low
    for part in parts:
        end = min(low + part.up_to_mm, high)
        while at + part.every_mm <= end:
            at += part.every_mm
            yield at
    if at < high <= low + parts[-1].up_to_mm:
        yield high
