"""The same point in an earlier run of the session: what was found before the adjustment."""

from __future__ import annotations

from decimal import Decimal

from instruments.measuring.evaluation import evaluate_run
from instruments.measuring.models import Point, Run
from instruments.measuring.queries import Bench
from labsys.pages.corridor import Earlier

Place = tuple[str, str, Decimal]


def place_of(point: Point) -> Place:
    """Give what makes two points of different runs the same one: function, place on the faces, length."""
    return point.function, point.place, point.nominal_mm


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
    return {
        place_of(item.point): Earlier(item.error_mm, str(item.decision.verdict))
        for item in evaluate_run(first)
        if item.point is not None
    }
