"""What of a gauge is covered: outside points on its scale, boxes for the rest, one sentence of what is open."""

from __future__ import annotations

from dataclasses import dataclass

from instruments.measuring.models import Point
from instruments.measuring.queries import Bench, BenchPoint
from instruments.measuring.showing import words
from instruments.measuring.showing.coverage import Coverage, CoverageData, CoverageMark, draw
from instruments.procedures.planner import open_rules
from labsys.metrology.plan import SPREAD_FUNCTION, OpenRule, PlanPoint
from labsys.metrology.units import Unit, from_mm

COUNT = "outside-count"
"""The rule that says least about where to go on; it is named last."""


@dataclass(frozen=True)
class FunctionBox:
    """One function besides the outside: done, next, planned, or open where no point is planned for it."""

    name: str
    state: str
    point_id: int | None = None


@dataclass(frozen=True)
class Covered:
    """The coverage rule with its boxes and its sentence."""

    picture: Coverage
    boxes: tuple[FunctionBox, ...]
    sentence: str


def covered(bench: Bench, here: BenchPoint | None) -> Covered:
    """Work out what the rule shows; ``here`` is the point that is read now."""
    model, content = bench.ground.model, bench.ground.content
    unit = Unit(model.unit)
    places = () if content.points is None else content.points.places
    picture = CoverageData(
        low=float(from_mm(model.range_low_mm, unit)),
        high=float(from_mm(model.range_high_mm, unit)),
        unit=unit.value,
        lanes=tuple(words.place(place).removeprefix("at the ") for place in places),
        marks=tuple(
            CoverageMark(
                float(from_mm(found.point.nominal_mm, unit)),
                places.index(found.point.place) if found.point.place in places else len(places) // 2,
                _state(found, here),
            )
            for found in bench.points
            if found.point.function == SPREAD_FUNCTION
        ),
    )
    return Covered(draw(picture), _boxes(bench, here), sentence(bench))


def rules_left_open(bench: Bench, *, planned: bool) -> tuple[OpenRule, ...]:
    """List the rules that the points leave open: those that are read, or with ``planned`` all of the plan."""
    gauge = bench.session.gauge
    points = [_plan_point(found.point) for found in bench.points if planned or found.is_done]
    return open_rules(bench.ground.content, gauge.model, tuple(gauge.functions), points)


def sentence(bench: Bench) -> str:
    """Say in one sentence what is open. What the plan itself leaves out comes first: reading on won't close it."""
    if bench.rejections:
        return "The gauge is rejected, so no more points are needed."
    blocking = [rule for rule in rules_left_open(bench, planned=True) if rule.is_blocking]
    if blocking:
        return f"The plan leaves open: {_joined(blocking)}"
    left = [rule for rule in rules_left_open(bench, planned=False) if rule.is_blocking]
    left.sort(key=lambda rule: rule.code == COUNT)
    if left:
        return f"Open: {_joined(left)}"
    unread = sum(1 for found in bench.points if not found.is_done)
    if unread:
        return f"Every rule is met; {unread} planned point{'s' if unread > 1 else ''} still to be read."
    return "Every rule for the points is met."


def _joined(rules: list[OpenRule]) -> str:
    first = rules[0].sentence.rstrip(".")
    more = f"; and {len(rules) - 1} more" if len(rules) > 1 else ""
    return f"{first[0].lower()}{first[1:]}{more}."


def _boxes(bench: Bench, here: BenchPoint | None) -> tuple[FunctionBox, ...]:
    gauge, rules = bench.session.gauge, bench.ground.content.points
    if rules is None:
        return ()
    wanted = rules.functions_of(tuple(gauge.functions), gauge.model.inside_jaws)
    return tuple(_box(name, bench, here) for name in wanted if name != SPREAD_FUNCTION)


def _box(name: str, bench: Bench, here: BenchPoint | None) -> FunctionBox:
    mine = [found for found in bench.points if found.point.function == name]
    if not mine:
        return FunctionBox(words.function(name), "open")
    states = {_state(found, here): found.point.pk for found in mine}
    state = next(state for state in ("next", "planned", "done") if state in states)
    return FunctionBox(words.function(name), state, states[state])


def _state(found: BenchPoint, here: BenchPoint | None) -> str:
    if here is not None and found.point.pk == here.point.pk:
        return "next"
    return "done" if found.is_done else "planned"


def _plan_point(point: Point) -> PlanPoint:
    return PlanPoint(function=point.function, length_mm=point.nominal_mm, place=point.place)
