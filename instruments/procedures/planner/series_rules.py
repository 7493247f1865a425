"""Which rules of a procedure's series a set of points still breaks, planned or done.

Lives here: the rules of one series on one gauge, as sentences. May not live here: rules over range and faces
(``labsys.metrology.plan``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.procedures.content import Series, place_words
from instruments.procedures.content import lengths as ways
from instruments.procedures.content.series import DIRECTIONS
from instruments.procedures.planner.aims import Aim, Piece, aims_of
from labsys.metrology.exact import plain
from labsys.metrology.plan import OpenRule, PlanPoint
from labsys.metrology.units import Unit, from_mm

_FAR = Decimal("0.9")


def series_rules(
    series: Series, model: GaugeModel, members: Sequence[Piece], points: Sequence[PlanPoint]
) -> Iterator[OpenRule]:
    """Give what ``points`` leave open of a series: members, lengths, the far end, places and directions of each."""
    mine = [point for point in points if point.function == series.code]
    aims = aims_of(series, model, members)
    if isinstance(series.lengths, ways.OneMember | ways.EveryMember):
        yield from _members(series, aims, mine)
    else:
        yield from _lengths(series, aims, mine, Unit(model.unit))
    yield from _laid_over(series, mine, Unit(model.unit))


def _members(series: Series, aims: Sequence[Aim], mine: Sequence[PlanPoint]) -> Iterator[OpenRule]:
    measured = {point.member for point in mine}
    left = [aim.member.label for aim in aims if aim.member and aim.member.id not in measured]
    if not aims:
        yield OpenRule(f"{series.code}-members", f"{series.name}: the gauge has no member for it.")
    if left:
        more = f" and {len(left) - 5} more" if len(left) > 5 else ""
        yield OpenRule(f"{series.code}-members", f"{series.name}: {', '.join(left[:5])}{more} not measured.")


def _lengths(
    series: Series, aims: Sequence[Aim], mine: Sequence[PlanPoint], unit: Unit
) -> Iterator[OpenRule]:
    done = {point.length_mm for point in mine}
    short = len({aim.length_mm for aim in aims}) - len(done)
    if short > 0:
        what = f"{short} more {unit.quantity}{'s' if short > 1 else ''}" if len(aims) > 1 else "not measured"
        yield OpenRule(f"{series.code}-count", f"{series.name}: {what}.")
    if isinstance(series.lengths, ways.FixedList | ways.FromLow | ways.Spread | ways.Segments) and aims:
        far = aims[0].length_mm + _FAR * (aims[-1].length_mm - aims[0].length_mm)
        if done and max(done) < far:
            yield OpenRule(
                f"{series.code}-far", f"{series.name}: one {unit.quantity} at {_words(far, unit)} or beyond."
            )


def _laid_over(series: Series, mine: Sequence[PlanPoint], unit: Unit) -> Iterator[OpenRule]:
    """Say at which sizes places or directions are missing; in turn, each place has to occur."""
    if not series.each_place and series.places and mine:
        for place in series.places:
            if place not in {point.place for point in mine} and len(mine) >= len(series.places):
                yield OpenRule(f"{series.code}-place-{place}", f"{series.name}: one at {place_words(place)}.")
    if series.each_place:
        for place in series.places:
            left = _without(mine, [point for point in mine if point.place == place])
            yield from _missing(
                f"{series.code}-place-{place}", f"{series.name}, {place_words(place)}", left, unit
            )
    for direction in series.directions:
        left = _without(mine, [point for point in mine if point.direction == direction])
        said = f"{series.name}, {DIRECTIONS[direction]}"
        yield from _missing(f"{series.code}-direction-{direction}", said, left, unit)


def _without(mine: Sequence[PlanPoint], those: Sequence[PlanPoint]) -> list[Decimal]:
    """Give the lengths of the sizes among ``mine`` that ``those`` don't have."""
    have = {(point.member, point.length_mm) for point in those}
    sizes = dict.fromkeys((point.member, point.length_mm) for point in mine)
    return [length for member, length in sizes if (member, length) not in have]


def _missing(code: str, said: str, left: Sequence[Decimal], unit: Unit) -> Iterator[OpenRule]:
    if left:
        at = f" at {_words(left[0], unit)}" if left[0] else ""
        more = f" and {len(left) - 1} more" if len(left) > 1 else ""
        yield OpenRule(code, f"{said}: missing{at}{more}.")


def _words(length_mm: Decimal, unit: Unit) -> str:
    return f"{plain(from_mm(length_mm, unit)):f} {unit.value}"
