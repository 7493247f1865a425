"""Which points a gauge needs, and which of them are still open: the same rules for the planner, the bench and
the working sheet.

Lives here: rules of coverage as data, what a set of points leaves open, a proposal from a list of lengths. May
not live here: the lists themselves (they stand in a procedure), standards and stacks, accepting a deviation.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, localcontext
from itertools import pairwise

from labsys.errors import LabError
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.exact import EXACT, plain
from labsys.metrology.units import Unit, from_mm

SPREAD_FUNCTION = "outside"
"""The function whose points are spread over the range; every other one has a window."""

PLACE_WORDS = {"near_beam": "near the beam", "middle": "at the middle of the faces", "tips": "at the tips"}
ONE_PHASE = Decimal("0.1")
"""Lengths within this share of a period count as one phase (common practice, no source)."""


class BadCoverageRules(LabError, ValueError):
    """Rules of coverage that no set of points could meet, or that mean nothing."""

    code = "bad-coverage-rules"
    sentence = (
        "Rules for the points, {place}: expected {expected}, found {found}. Correct the procedure's revision."
    )


@dataclass(frozen=True, slots=True)
class PlanPoint:
    """One point, planned or done: function, length in mm, place on the faces (near_beam, middle, tips or empty).

    ``direction`` is up or down where both ways of travel are read, ``member`` names the piece of a set.
    """

    function: str
    length_mm: Decimal
    place: str = ""
    direction: str = ""
    member: int | None = None


@dataclass(frozen=True, slots=True)
class Window:
    """Where the one point of a function has to lie, in mm; ``below`` leaves the upper end out ("under 50 mm")."""

    from_mm: Decimal
    to_mm: Decimal
    below: bool = False
    prefer_mm: Decimal | None = None

    def holds(self, length_mm: Decimal) -> bool:
        """Say whether a length lies within."""
        return self.from_mm <= length_mm and (
            length_mm < self.to_mm if self.below else length_mm <= self.to_mm
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverageRules:
    """The rules for one gauge.

    At least ``least_points`` outside points (0: the gauge has no outside faces), one within ``low_share`` of
    the range, one at ``far_share`` of it or beyond, each of ``places`` used, neighbours at different
    places. ``windows`` holds the functions the gauge has besides. ``period_mm`` is the scale's period (None:
    not known), whose phase is a warning unless ``phase_is_rule``. ``unit`` is the one that sentences speak in.
    Raises BadCoverageRules.
    """

    range_high_mm: Decimal
    range_low_mm: Decimal = Decimal(0)
    least_points: int
    places: tuple[str, ...] = ("near_beam", "middle", "tips")
    low_share: Decimal = Decimal(1) / 3
    far_share: Decimal = Decimal("0.9")
    windows: Mapping[str, Window] = field(default_factory=dict)
    period_mm: Decimal | None = None
    phase_is_rule: bool = False
    unit: Unit = Unit.MM

    def __post_init__(self) -> None:
        """Refuse rules that mean nothing."""
        period = Decimal(1) if self.period_mm is None else self.period_mm
        for place, value in (("range", self.range_high_mm - self.range_low_mm), ("period", period)):
            if not (value.is_finite() and value > 0):
                raise BadCoverageRules(place=place, expected="a length above zero", found=value)
        if self.least_points < 0:
            raise BadCoverageRules(place="least points", expected="zero or more", found=self.least_points)

    def at_share(self, share: Decimal) -> Decimal:
        """Give the length at a share of the measuring range from its low end, in mm to whole picometres."""
        with localcontext(EXACT):
            length_mm = self.range_low_mm + share * (self.range_high_mm - self.range_low_mm)
        return from_picometres(to_picometres(length_mm))

    def words(self, length_mm: Decimal) -> str:
        """Print a length in the gauge's unit."""
        shown = plain(from_mm(length_mm, self.unit, decimals=1 if self.unit is Unit.MM else 3))
        return f"{shown:f} {self.unit.value}"


@dataclass(frozen=True, slots=True)
class OpenRule:
    """One rule that the points don't meet: a stable code, a sentence, whether it holds up submission or only warns."""

    code: str
    sentence: str
    is_blocking: bool = True


def open_rules(rules: CoverageRules, points: Sequence[PlanPoint]) -> tuple[OpenRule, ...]:
    """List what ``points`` (planned or done) leave open, the widest gap first; empty where everything is covered."""
    outside = sorted(
        (point for point in points if point.function == SPREAD_FUNCTION), key=lambda point: point.length_mm
    )
    found: list[OpenRule] = []
    if rules.least_points:
        found += [*_count(rules, outside), *_ends(rules, outside), *_places(rules, outside)]
        found += [*_neighbours(rules, outside)]
    found += [*_windows(rules, points), *_phase(rules, outside)]
    return tuple(found)


def open_sentence(found: Sequence[OpenRule]) -> str:
    """Say in one sentence what still blocks, empty where nothing does."""
    blocking = [one.sentence.rstrip(".") for one in found if one.is_blocking]
    if not blocking:
        return ""
    return "Open: " + "; ".join(text[0].lower() + text[1:] for text in blocking) + "."


def propose_points(
    lengths_mm: Sequence[Decimal], rules: CoverageRules, *, longest_at: Sequence[str] = ("near_beam", "tips")
) -> tuple[PlanPoint, ...]:
    """Propose points: ``lengths_mm`` outside with the places cycled, the longest at each of ``longest_at``,
    then one per window.

    A window without a length to prefer takes its middle. What the lists can't cover stays open under ``open_rules``.

    """
    lengths = sorted(set(lengths_mm)) if rules.least_points else []
    points = [
        PlanPoint(SPREAD_FUNCTION, length, rules.places[place % len(rules.places)] if rules.places else "")
        for place, length in enumerate(lengths[:-1])
    ]
    points += (
        [PlanPoint(SPREAD_FUNCTION, lengths[-1], place) for place in longest_at or [""]] if lengths else []
    )
    with localcontext(EXACT):
        points += [
            PlanPoint(name, window.prefer_mm or (window.from_mm + window.to_mm) / 2)
            for name, window in rules.windows.items()
        ]
    return tuple(points)


def _count(rules: CoverageRules, outside: Sequence[PlanPoint]) -> Iterator[OpenRule]:
    missing = rules.least_points - len(outside)
    if missing > 0:
        yield OpenRule(
            "outside-count",
            f"{missing} more outside point{'s' if missing > 1 else ''}: "
            f"at least {rules.least_points} up to {rules.words(rules.range_high_mm)}.",
        )


def _ends(rules: CoverageRules, outside: Sequence[PlanPoint]) -> Iterator[OpenRule]:
    low, far = rules.at_share(rules.low_share), rules.at_share(rules.far_share)
    if not any(point.length_mm <= low for point in outside):
        yield OpenRule("outside-low", f"One outside point up to {rules.words(low)}.")
    if not any(point.length_mm >= far for point in outside):
        yield OpenRule("outside-far", f"One outside point at {rules.words(far)} or beyond.")


def _places(rules: CoverageRules, outside: Sequence[PlanPoint]) -> Iterator[OpenRule]:
    used = {point.place for point in outside}
    for place in rules.places:
        if place not in used:
            yield OpenRule(f"outside-place-{place}", f"One outside point {PLACE_WORDS.get(place, place)}.")


def _neighbours(rules: CoverageRules, outside: Sequence[PlanPoint]) -> Iterator[OpenRule]:
    """Lengths next to each other differ in place; a length taken at several places differs from one taken at one."""
    if len(rules.places) < 2:
        return
    by_length: dict[Decimal, set[str]] = {}
    for point in outside:
        by_length.setdefault(point.length_mm, set()).add(point.place)
    alike = [
        f"{rules.words(shorter)} and {rules.words(longer)}"
        for (shorter, first), (longer, second) in pairwise(by_length.items())
        if first == second
    ]
    if alike:
        yield OpenRule("outside-neighbours", f"Another place on the faces for one of {', '.join(alike)}.")


def _windows(rules: CoverageRules, points: Sequence[PlanPoint]) -> Iterator[OpenRule]:
    for name, window in rules.windows.items():
        if not any(point.function == name and window.holds(point.length_mm) for point in points):
            words = name.replace("_", " ")
            yield OpenRule(f"window-{name}", f"One {words} point {_window_words(rules, window)}.")


def _window_words(rules: CoverageRules, window: Window) -> str:
    if window.below:
        return f"under {rules.words(window.to_mm)}"
    return f"from {rules.words(window.from_mm)} to {rules.words(window.to_mm)}"


def _phase(rules: CoverageRules, outside: Sequence[PlanPoint]) -> Iterator[OpenRule]:
    """Warn where all lengths lie at one phase of the scale: an error that repeats with the period would stay unseen."""
    period = rules.period_mm
    if period is None or len({point.length_mm for point in outside}) < 2:
        return
    with localcontext(EXACT):
        phases = sorted((point.length_mm % period) / period for point in outside)
    gaps = [later - earlier for earlier, later in pairwise(phases)] + [1 - phases[-1] + phases[0]]
    if max(gaps) >= 1 - ONE_PHASE:
        yield OpenRule(
            "outside-phase",
            f"All outside lengths lie at one phase of the scale's period of {rules.words(period)}; choose one "
            f"in between.",
            is_blocking=rules.phase_is_rule,
        )
