"""The points a gauge should be measured at, with the standards that are available, each with its reason.

Lives here: ``propose``. May not live here: which rules a plan breaks (rules.py), tables.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.procedures.content import FUNCTIONS, PLACES, Content, PointRules, Window
from instruments.procedures.planner.aims import Piece
from instruments.procedures.planner.choosing import Choice, Shelf
from instruments.procedures.planner.of_series import planned_series
from instruments.procedures.planner.planned import PlannedPoint, Proposal
from instruments.procedures.planner.targets import outside_targets, round_lengths
from labsys.metrology.units import Unit, from_mm
from standards.register.queries import Available

Offer = Callable[[str], Sequence[Available]] | Mapping[str, Sequence[Available]]

# How far, as a share of the range, a length may lie from the one aimed at when nothing makes that one.
_REACH = Decimal("0.15")


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A length that has been found, before it has its place in the order."""

    function: str
    choice: Choice
    why: str
    places: tuple[str, ...] = ("",)


def propose(
    *,
    model: GaugeModel,
    functions: tuple[str, ...],
    content: Content,
    available: Offer,
    members: Sequence[Piece] = (),
) -> Proposal:
    """Plan the points of a gauge of ``model`` that has ``functions``, from what ``available`` offers per function.

    Outside lengths ascend; the longest is taken at each place the procedure names for it. Then come the series, in
    their order; ``members`` are the pieces of a set. What no standard can serve is named in ``missing``, so that
    nothing is left out in silence.
    """
    missing: list[str] = []
    spread = [] if content.points is None else _over_faces(model, functions, content, available, missing)
    points = [
        PlannedPoint(
            number, want.function, place, want.choice.nominal_mm, want.choice.elements, _why(want, place)
        )
        for number, (want, place) in enumerate(spread, start=1)
    ]
    for series in content.series_for(functions):
        offered = _offered(series.serves, available) if series.serves else ()
        shelf = Shelf(offered, content.references, Unit(model.unit), series.most_blocks)
        points += planned_series(series, model, members, shelf, len(points) + 1, missing)
    return Proposal(tuple(points), tuple(missing))


def _over_faces(
    model: GaugeModel, functions: tuple[str, ...], content: Content, available: Offer, missing: list[str]
) -> list[tuple[_Wanted, str]]:
    rules = content.points
    assert rules is not None, "asked for only where the procedure has rules for the faces"
    wanted: list[_Wanted] = []
    for function in rules.functions_of(functions, model.inside_jaws):
        offered = _offered(function, available)
        shelf = Shelf(offered, content.references, Unit(model.unit), rules.stack_at_most)
        if function == "outside":
            wanted.extend(_outside(shelf, rules, model, missing))
        else:
            wanted.extend(_single(shelf, function, rules.windows[function], missing))
    return [(want, place) for want in wanted for place in want.places]


def _offered(function: str, available: Offer) -> Sequence[Available]:
    return available(function) if callable(available) else available.get(function, ())


def _outside(shelf: Shelf, rules: PointRules, model: GaugeModel, missing: list[str]) -> Iterator[_Wanted]:
    unit = Unit(model.unit)
    found: dict[Decimal, tuple[Choice, str]] = {}
    for target in outside_targets(rules, model):
        choice = shelf.exactly(target) or _instead(shelf, target, rules, model, set(found))
        if choice is None:
            missing.append(_nothing_near(shelf, target, unit, model))
            continue
        short = "" if choice.nominal_mm == target else f"; nothing here makes {words(target, unit)}"
        found[choice.nominal_mm] = (choice, _where(choice.nominal_mm, rules, model) + short)
    ordered = sorted(found)
    least = rules.band_for(model.range_high_mm).least_points
    if ordered and len(ordered) < least:
        missing.append(
            f"Outside: {len(ordered)} of at least {least} lengths can be made with the standards available."
        )
    places = _places(len(ordered), rules)
    for length, at in zip(ordered, places, strict=True):
        choice, where = found[length]
        yield _Wanted("outside", choice, where, at)


def _instead(
    shelf: Shelf, target: Decimal, rules: PointRules, model: GaugeModel, taken: set[Decimal]
) -> Choice | None:
    """Take what is nearest to a length that nothing makes, within the same part of the range: an element, or a stack
    of a round length.
    """
    low, high = model.range_low_mm, model.range_high_mm
    span = high - low
    near, far = target - _REACH * span, min(high, target + _REACH * span)
    if target >= low + rules.far_share * span:
        near = max(near, low + rules.far_share * span)
    if target <= low + rules.low_share * span:
        far = min(far, low + rules.low_share * span)
    free = [item for item in shelf.items if item.element.nominal_mm not in taken]
    single = Shelf(free, shelf.needs, shelf.unit, shelf.most_blocks).nearest(target, max(near, low), far)
    if single is not None:
        return single
    rounds = [length for length in round_lengths(max(near, low), far, shelf.unit) if length not in taken]
    stacks = map(shelf.exactly, sorted(rounds, key=lambda length: (abs(length - target), length)))
    return next((stack for stack in stacks if stack is not None), None)


def _single(shelf: Shelf, function: str, window: Window, missing: list[str]) -> Iterator[_Wanted]:
    aim = window.prefer_mm or (window.from_mm + window.to_mm) / 2
    inside = Shelf(
        [item for item in shelf.items if window.holds(item.element.nominal_mm)],
        shelf.needs,
        shelf.unit,
        shelf.most_blocks,
    )
    choice = inside.nearest(aim, window.from_mm, window.to_mm) or shelf.exactly(aim)
    if choice is None:
        missing.append(_nothing_within(shelf, function, window))
        return
    yield _Wanted(function, choice, f"one point {FUNCTIONS[function]}, {window_words(window)}")


def _places(count: int, rules: PointRules) -> list[tuple[str, ...]]:
    """Spread the places over ascending lengths: neighbours differ, every place occurs, the longest at several."""
    cycle = rules.places
    single = [cycle[index % len(cycle)] for index in range(max(0, count - 1))]
    if count == 0:
        return []
    unused = [place for place in cycle if place not in single and place not in rules.longest_at]
    last = [*rules.longest_at, *unused]
    # The longest begins at another place than the length before it ended at.
    if single and last[0] == single[-1] and len(last) > 1:
        last = [*last[1:], last[0]]
    return [*((place,) for place in single), tuple(last)]


def _where(length: Decimal, rules: PointRules, model: GaugeModel) -> str:
    low, span = model.range_low_mm, model.range_high_mm - model.range_low_mm
    if length >= low + rules.far_share * span:
        return "the far end of the range"
    return "the low end of the range" if length <= low + rules.low_share * span else "between the ends"


def _why(want: _Wanted, place: str) -> str:
    parts = [want.why, PLACES[place] if place else "", want.choice.why]
    return "; ".join(part for part in parts if part)


def _nothing_near(shelf: Shelf, target: Decimal, unit: Unit, model: GaugeModel) -> str:
    span = model.range_high_mm - model.range_low_mm
    coarse = shelf.too_coarse(target - _REACH * span, target + _REACH * span)
    return f"Outside: no standard available makes {words(target, unit)} or a length near it.{_hint(coarse)}"


def _nothing_within(shelf: Shelf, function: str, window: Window) -> str:
    coarse = shelf.too_coarse(window.from_mm, window.to_mm)
    name = FUNCTIONS[function].capitalize()
    return f"{name}: no standard available {window_words(window)}.{_hint(coarse)}"


def _hint(coarse: Available | None) -> str:
    if coarse is None:
        return " Put one in service, or restrict the gauge."
    element = f"{coarse.standard.tag} {coarse.element.label}"
    return f" {element} would serve, but its uncertainty is larger than the procedure allows."


def words(length_mm: Decimal, unit: Unit) -> str:
    """Write a length in the gauge's unit."""
    return f"{from_mm(length_mm, unit):f} {unit.value}"


def window_words(window: Window) -> str:
    """Write where a function's point has to lie."""
    low, high = (f"{value.normalize():f}" for value in (window.from_mm, window.to_mm))
    return f"from {low} mm to under {high} mm" if window.below else f"from {low} mm to {high} mm"
