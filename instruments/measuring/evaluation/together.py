"""What the points of a series say together: spans, hysteresis, spread, variation, roundness, taper.

Lives here: which points are compared with which. May not live here: arithmetic (``labsys.metrology.characteristics``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from instruments.inventory.models import Member
from instruments.measuring.evaluation.evaluated import Evaluated
from instruments.measuring.evaluation.ground import Ground
from instruments.measuring.evaluation.points import counting, decided
from instruments.measuring.models import Point, Result
from instruments.procedures.content import Series
from instruments.procedures.content.series import OVER_LENGTHS, RESULTS, ResultRule
from labsys.metrology.characteristics import (
    Between,
    NothingToCompare,
    difference_views,
    widest,
    widest_apart,
    widest_within,
)
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.units import Unit


@dataclass(frozen=True)
class _Taken:
    """One reading among those compared: its point's result, its own error or value in mm."""

    of: Evaluated
    point: Point
    value_mm: Decimal


def results_together(found: Sequence[Evaluated], ground: Ground) -> Iterator[Evaluated]:
    """Give what the points of every series say together, member by member; nothing where too little is read."""
    for series in ground.content.series:
        mine = [one for one in found if one.point is not None and one.point.function == series.code]
        by_member: dict[Member | None, list[_Taken]] = defaultdict(list)
        for taken in _taken(mine, in_rounds=bool(series.order)):
            by_member[taken.point.member].append(taken)
        for member, all_taken in by_member.items():
            for rule in series.common_rules:
                one = _result(series, rule, member, all_taken, ground)
                if one is not None:
                    yield one


def prospects_together(found: Sequence[Evaluated], ground: Ground) -> Iterator[Evaluated]:
    """Give what common results will be judged with, as if they were nought; ``found`` are the points' prospects."""
    for series in ground.content.series:
        mine = [one for one in found if one.point is not None and one.point.function == series.code]
        by_length = sorted(mine, key=lambda one: one.length_mm)
        for rule in series.common_rules if mine else ():
            ends = (by_length[0], by_length[-1]) if rule.kind in OVER_LENGTHS else (by_length[-1],) * 2
            taken = [_Taken(one, one.point, Decimal(0)) for one in ends if one.point is not None]
            yield _evaluated(series, rule, None, taken, Between(Decimal(0), 1, 0), ground)


def _taken(found: Iterable[Evaluated], *, in_rounds: bool) -> Iterator[_Taken]:
    """Give the readings that are compared; of rounds of reference and gauge, their mean."""
    for one in found:
        assert one.point is not None, "results of points only"
        if in_rounds:
            yield _Taken(one, one.point, one.error_mm)
            continue
        for reading in counting(one.point):
            yield _Taken(one, one.point, reading.value_mm - one.held_mm)


def _result(
    series: Series, rule: ResultRule, member: Member | None, taken: list[_Taken], ground: Ground
) -> Evaluated | None:
    going = [one for one in taken if not rule.direction or one.point.direction == rule.direction]
    try:
        between = _COMPARED[rule.kind](going, rule.for_unit(Unit(ground.model.unit)))
    except NothingToCompare:
        return None
    return _evaluated(series, rule, member, going, between, ground)


def _evaluated(
    series: Series,
    rule: ResultRule,
    member: Member | None,
    taken: list[_Taken],
    between: Between,
    ground: Ground,
) -> Evaluated:
    high, low = taken[between.high], taken[between.low]
    assert high.of.inputs is not None and low.of.inputs is not None, "what is compared was measured"
    factor = Decimal("0.5") if rule.kind == Result.Kind.ROUNDNESS else Decimal(1)
    views = difference_views(
        ground.specs_of(series.code),
        high.of.inputs,
        low.of.inputs,
        factor=float(factor),
        probability=ground.content.probability,
    )
    points = tuple(dict.fromkeys(one.point for one in taken))
    furthest = max(point.nominal_mm for point in points)
    return decided(
        Evaluated(
            point=None,
            kind=rule.kind,
            function=rule.limit,
            length_mm=furthest,
            held_mm=furthest,
            reading=None,
            error_mm=from_picometres(to_picometres(between.difference_mm * factor)),
            repeats=None,
            limits=ground.limits_for(rule, furthest),
            views=views,
            inputs=None,
            name=_name(series, rule, member),
            points=points,
            between=(high.point.pk, low.point.pk),
        ),
        ground,
    )


def _name(series: Series, rule: ResultRule, member: Member | None) -> str:
    named = rule.name or f"{series.name}: {RESULTS[rule.kind]}"
    return f"{named}, {member.label}"[:120] if member is not None else named[:120]


def _grouped(taken: Sequence[_Taken], key: Callable[[Point], Hashable]) -> list[list[int]]:
    groups: dict[Hashable, list[int]] = defaultdict(list)
    for place, one in enumerate(taken):
        groups[key(one.point)].append(place)
    return list(groups.values())


def _values(taken: Sequence[_Taken]) -> list[Decimal]:
    return [one.value_mm for one in taken]


def _span(taken: Sequence[_Taken], _rule: ResultRule) -> Between:
    return widest(_values(taken))


def _section(taken: Sequence[_Taken], rule: ResultRule) -> Between:
    assert rule.within_mm is not None, "a section names its length"
    return widest_within(_values(taken), [one.point.nominal_mm for one in taken], rule.within_mm)


def _hysteresis(taken: Sequence[_Taken], _rule: ResultRule) -> Between:
    """Compare going up with coming down at the same length and place."""
    pairs = []
    for group in _grouped(taken, lambda point: (point.nominal_mm, point.place)):
        ways = [[n for n in group if taken[n].point.direction == way] for way in ("up", "down")]
        pairs.append((ways[0], ways[1]))
    return widest_apart(_values(taken), pairs)


def _spread(taken: Sequence[_Taken], _rule: ResultRule) -> Between:
    return widest(_values(taken), _grouped(taken, lambda point: point.pk))


def _variation(taken: Sequence[_Taken], _rule: ResultRule) -> Between:
    return widest(_values(taken), _grouped(taken, lambda point: point.nominal_mm))


def _roundness(taken: Sequence[_Taken], _rule: ResultRule) -> Between:
    return widest(_values(taken), _grouped(taken, lambda point: (point.nominal_mm, _section_of(point))))


def _taper(taken: Sequence[_Taken], _rule: ResultRule) -> Between:
    """Compare sections along the same line, so that what is out of round is not taken for taper."""
    return widest(_values(taken), _grouped(taken, lambda point: (point.nominal_mm, _angle_of(point))))


def _section_of(point: Point) -> str:
    return point.place.partition("/")[0]


def _angle_of(point: Point) -> str:
    return point.place.partition("/")[2]


_COMPARED: dict[str, Callable[[Sequence[_Taken], ResultRule], Between]] = {
    Result.Kind.SPAN: _span,
    Result.Kind.SECTION: _section,
    Result.Kind.HYSTERESIS: _hysteresis,
    Result.Kind.SPREAD: _spread,
    Result.Kind.VARIATION: _variation,
    Result.Kind.ROUNDNESS: _roundness,
    Result.Kind.TAPER: _taper,
}
