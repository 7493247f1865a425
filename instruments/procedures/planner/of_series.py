"""The points of one series on one gauge, with the standards that are available, each with its reason.

Lives here: ``planned_series``. May not live here: points over range and faces (proposing.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.procedures.content import Series, place_words
from instruments.procedures.content import lengths as ways
from instruments.procedures.content.series import DIRECTIONS
from instruments.procedures.planner.aims import Aim, Piece, Spot, aims_of, spots_of
from instruments.procedures.planner.choosing import Choice, Shelf
from instruments.procedures.planner.planned import PlannedPoint
from labsys.metrology.units import Unit
from labsys.pages.figures import NARROW_GAP, said_size, size

_NEAR = Decimal("0.05")
"""How far, as a share of the range, a length may lie from the one aimed at when nothing makes that one."""

_FREE = (ways.FixedList, ways.FromLow, ways.Spread, ways.InWindow)
"""Ways whose lengths may give way to one nearby."""


def planned_series(
    series: Series,
    model: GaugeModel,
    members: Sequence[Piece],
    shelf: Shelf,
    first: int,
    missing: list[str],
) -> list[PlannedPoint]:
    """Plan one series, its points numbered from ``first``; what can't be planned is said in ``missing``."""
    aims = aims_of(series, model, members)
    if not aims:
        missing.append(_no_aim(series))
    chosen: dict[Aim, Choice] = {}
    for aim in aims:
        choice = _choice(series, aim, model, shelf)
        if choice is None:
            missing.append(_nothing(series, aim, Unit(model.unit)))
        else:
            chosen[aim] = choice
    spots = spots_of(series, list(chosen))
    return [_point(series, spot, chosen[spot.aim], first + n, model.unit) for n, spot in enumerate(spots)]


def _choice(series: Series, aim: Aim, model: GaugeModel, shelf: Shelf) -> Choice | None:
    """Find what makes a length; nothing is needed where the series is compared with nothing."""
    if not series.serves:
        return Choice((), aim.length_mm, "")
    if series.reads in ("value", "bands"):
        # The length does not enter: what measures has to reach the size, that is all.
        return shelf.reaching(aim.length_mm)
    exact = shelf.exactly(aim.length_mm)
    if series.reads == "difference" and (exact is None or len(exact.elements) > 1):
        # One piece nearby compares better than a stack of just this length.
        near = aim.length_mm - series.within_mm, aim.length_mm + series.within_mm
        return shelf.nearest(aim.length_mm, *near) or exact
    if exact is not None:
        return exact
    if not isinstance(series.lengths, _FREE):
        return None
    reach = _NEAR * (model.range_high_mm - model.range_low_mm)
    low = max(model.range_low_mm, aim.length_mm - reach)
    return shelf.nearest(aim.length_mm, low, min(model.range_high_mm, aim.length_mm + reach))


def _point(series: Series, spot: Spot, choice: Choice, sequence: int, unit: str) -> PlannedPoint:
    # The size of a fixed gauge is its own, whatever it is compared with.
    own = series.reads != "indication"
    return PlannedPoint(
        sequence=sequence,
        function=series.code,
        place=spot.place,
        nominal_mm=spot.aim.length_mm if own else choice.nominal_mm,
        elements=choice.elements,
        why="; ".join(part for part in _why(series, spot, choice, unit) if part),
        direction=spot.direction,
        member=None if spot.aim.member is None else spot.aim.member.id,
    )


def _why(series: Series, spot: Spot, choice: Choice, unit: str) -> Iterator[str]:
    yield series.name
    yield "" if spot.aim.member is None else spot.aim.member.label
    yield place_words(spot.place) if spot.place else ""
    yield DIRECTIONS.get(spot.direction, "")
    if series.reads == "indication" and choice.nominal_mm != spot.aim.length_mm:
        yield f"nothing here makes {said_size(spot.aim.length_mm, unit)}"
    yield choice.why


def _no_aim(series: Series) -> str:
    way = series.lengths
    if isinstance(way, ways.OneMember):
        return f"{series.name}: the gauge has no member “{way.label}”. Enter it with its size."
    if isinstance(way, ways.EveryMember):
        return f"{series.name}: the gauge has no members. Enter its pieces with their sizes."
    return f"{series.name}: no length of the procedure lies within the gauge's range."


def _size(length_mm: Decimal, unit: Unit) -> str:
    return size(length_mm, unit).replace(NARROW_GAP, " ")


def _nothing(series: Series, aim: Aim, unit: Unit) -> str:
    size = f" for {_size(aim.length_mm, unit)}" if aim.length_mm else ""
    member = f" ({aim.member.label})" if aim.member else ""
    return f"{series.name}{member}: no standard available{size} serves this. Put one in service, or restrict the gauge."
