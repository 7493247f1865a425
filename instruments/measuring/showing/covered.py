"""What of a gauge is covered: outside points on its scale, boxes for the rest, one sentence of what is open."""

from __future__ import annotations

from dataclasses import dataclass

from instruments.measuring.planning import rules_open
from instruments.measuring.queries import Bench, BenchPoint
from instruments.measuring.showing import words
from instruments.measuring.showing.coverage import Coverage, CoverageData, CoverageMark, draw
from instruments.procedures.content import Content, Series
from instruments.procedures.content.series import DIRECTIONS
from labsys.metrology.plan import SPREAD_FUNCTION, OpenRule
from labsys.metrology.units import Quantity, Unit, from_mm

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
    """The coverage rule with its boxes and its sentence; no picture where nothing is measured over a range."""

    picture: Coverage | None
    boxes: tuple[FunctionBox, ...]
    sentence: str


def covered(bench: Bench, here: BenchPoint | None, said: str | None = None) -> Covered:
    """Work out what the rule shows; ``here`` is the point that is read now, ``said`` the sentence where it is known."""
    code = _pictured(bench, here)
    return Covered(
        _picture(bench, here, code), _boxes(bench, here, code), sentence(bench) if said is None else said
    )


def _pictured(bench: Bench, here: BenchPoint | None) -> str:
    """Give what is drawn on the scale: outside lengths, or the series that is read now, or the first over lengths."""
    content = bench.ground.content
    if content.points is not None:
        return SPREAD_FUNCTION
    drawn = [one.code for one in content.series if one.reads == "indication"]
    if here is not None and here.point.function in drawn:
        return here.point.function
    return drawn[0] if drawn else ""


def _picture(bench: Bench, here: BenchPoint | None, code: str) -> Coverage | None:
    model, content = bench.ground.model, bench.ground.content
    if not code or model.range_high_mm <= model.range_low_mm:
        return None
    # A scale of degrees and minutes is numbered in degrees.
    unit = Unit(model.unit) if model.quantity is Quantity.LENGTH else Unit.DEG
    series = content.series_of(code)
    lanes = _lanes(content, series)
    data = CoverageData(
        low=float(from_mm(model.range_low_mm, unit)),
        high=float(from_mm(model.range_high_mm, unit)),
        unit=unit.value,
        lanes=tuple(lanes.values()),
        marks=tuple(
            CoverageMark(
                float(from_mm(found.point.nominal_mm, unit)),
                _lane(found, list(lanes)),
                _state(found, here),
            )
            for found in bench.points
            if found.point.function == code
        ),
    )
    return draw(data)


def _lanes(content: Content, series: Series | None) -> dict[str, str]:
    """Name the lanes by what a point says of itself: directions, otherwise places; none for neither."""
    if series is not None and series.directions:
        return {way: DIRECTIONS[way] for way in series.directions}
    places = series.places if series is not None else content.points.places if content.points else ()
    return {place: words.place(place).removeprefix("at the ") for place in places}


def _lane(found: BenchPoint, lanes: list[str]) -> int:
    for key in (found.point.direction, found.point.place):
        if key in lanes:
            return lanes.index(key)
    return len(lanes) // 2


def rules_left_open(bench: Bench, *, planned: bool) -> tuple[OpenRule, ...]:
    """List the rules that the points leave open: those that are read, or with ``planned`` all of the plan."""
    points = [found.point for found in bench.points if planned or found.is_done]
    return rules_open(bench.session, points)


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
    if first[1:2].islower():
        first = first[0].lower() + first[1:]
    more = f"; and {len(rules) - 1} more" if len(rules) > 1 else ""
    return f"{first}{more}."


def _boxes(bench: Bench, here: BenchPoint | None, pictured: str) -> tuple[FunctionBox, ...]:
    gauge, content = bench.session.gauge, bench.ground.content
    wanted = (
        ()
        if content.points is None
        else content.points.functions_of(tuple(gauge.functions), gauge.model.inside_jaws)
    )
    codes = (*wanted, *(one.code for one in content.series_for(tuple(gauge.functions))))
    return tuple(_box(code, bench, here) for code in codes if code != pictured)


def _box(code: str, bench: Bench, here: BenchPoint | None) -> FunctionBox:
    name = bench.ground.content.name_of(code)
    mine = [found for found in bench.points if found.point.function == code]
    if not mine:
        return FunctionBox(name, "open")
    states = {_state(found, here): found.point.pk for found in mine}
    state = next(state for state in ("next", "planned", "done") if state in states)
    return FunctionBox(name, state, states[state])


def _state(found: BenchPoint, here: BenchPoint | None) -> str:
    if here is not None and found.point.pk == here.point.pk:
        return "next"
    return "done" if found.is_done else "planned"
