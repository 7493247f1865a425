"""The same point in an earlier run of the session: what was found before the adjustment."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from instruments.measuring.evaluation import Evaluated, evaluate_run
from instruments.measuring.models import Point, Result, Run
from instruments.measuring.queries import Bench
from labsys.pages.corridor import Earlier


class Place(NamedTuple):
    """What makes two results of different runs the same one: of a point, or of several together by their name."""

    function: str
    place: str
    nominal_mm: Decimal
    direction: str = ""
    member_id: int | None = None
    name: str = ""


def place_of(point: Point) -> Place:
    """Give what makes two points of different runs the same one."""
    return Place(point.function, point.place, point.nominal_mm, point.direction, point.member_id)


def place_of_evaluated(found: Evaluated) -> Place | None:
    """Give what makes a result the same one in another run; None for a zero."""
    if found.point is not None:
        return place_of(found.point)
    return Place(found.function, "", Decimal(0), name=found.name) if found.is_common else None


def place_of_result(result: Result) -> Place | None:
    """Give what makes a stored result the same one in another run; None for a zero."""
    if result.name:
        return Place(result.function, "", Decimal(0), name=result.name)
    point = next(iter(result.points.all()), None)
    return None if point is None else place_of(point)


def as_found_of(bench: Bench, point: Point) -> Earlier | None:
    """Give what the point said as found; None in the first run, and where it was not taken then."""
    if bench.run.stage == Run.Stage.AS_FOUND:
        return None
    return found_before(bench).get(place_of(point))


def found_before(bench: Bench) -> dict[Place, Earlier]:
    """Give the errors of the as-found run by point."""
    first = bench.session.runs.filter(stage=Run.Stage.AS_FOUND).first()
    if first is None or first.pk == bench.run.pk:
        return {}
    return earlier_of(evaluate_run(first))


def earlier_of(found: Iterable[Evaluated]) -> dict[Place, Earlier]:
    """Give what was found by place, as later results are drawn beside it; only what has a verdict."""
    placed = ((place_of_evaluated(item), item) for item in found)
    return {
        place: Earlier(item.error_mm, str(item.verdict))
        for place, item in placed
        if place is not None and item.verdict is not None
    }
