"""A series: one thing that is measured on a gauge, where, with what, how it is read, and which results come of it.

Lives here: the records and the words of their kinds. May not live here: reading or writing them, arithmetic.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from instruments.procedures.content.lengths import LEFT_OUT, Lengths
from labsys.metrology.units import Unit, to_mm

READS: dict[str, str] = {
    "indication": "what the gauge shows, against the length of the reference",
    "difference": "how much larger than the reference it is, as the comparator shows it",
    "value": "the value itself, as the measuring instrument shows it",
    "bands": "interference bands counted",
    "attribute": "it fits, or it doesn't",
}
"""Ways a series is read, with the words people read."""

RESULTS: dict[str, str] = {
    "error": "error of indication at every point",
    "deviation": "deviation of size at every point",
    "value": "the value at every point",
    "span": "largest minus smallest error",
    "section": "largest minus smallest error over a short section",
    "hysteresis": "largest difference between going up and coming down",
    "spread": "largest minus smallest of the readings at one point",
    "variation": "largest minus smallest over the places of one length",
    "roundness": "half of the largest difference of two directions in one section",
    "taper": "largest difference between the sections",
    "attribute": "it fits, or it doesn't",
}
"""Kinds of result a series can have, with the words people read."""

OVER_LENGTHS = ("span", "section")
"""Kinds that compare one length with another; other common ones compare readings at one length."""

OF_EACH_POINT = ("error", "deviation", "value", "attribute")
"""Kinds that every point has one of; the others come of several together."""

DIRECTIONS: dict[str, str] = {"up": "going up", "down": "coming down"}

SKETCHES = (
    *(
        "caliper",
        "micrometer",
        "micrometer-parallelism",
        "micrometer-flatness",
        "depth-gauge",
        "depth-micrometer",
    ),
    *(
        "inside-micrometer",
        "height-gauge",
        "indicator",
        "lever-indicator",
        "bore-gauge",
        "plug",
        "ring",
        "block",
    ),
    *("check-bar", "thread-wires", "surface-plate", "feeler", "protractor", "radius-gauge"),
)
"""Names of the drawings that a series can show."""


@dataclass(frozen=True, slots=True)
class ResultRule:
    """One result of a series: its kind, the line of limits it is judged by, its name.

    ``direction``: of a span, only the readings going that way. ``within_mm``: the section of a section span,
    ``within_in`` the same of gauges that read inches (None: ``within_mm`` holds for them too).
    """

    kind: str
    limit: str
    name: str = ""
    direction: str = ""
    within_mm: Decimal | None = None
    within_in: Decimal | None = field(default=None, metadata={LEFT_OUT: True})

    def for_unit(self, unit: Unit) -> ResultRule:
        """Give the rule as it holds for a gauge that reads ``unit``: ``within_mm`` is its section there, in mm."""
        if unit is Unit.IN and self.within_in is not None:
            return replace(self, within_mm=to_mm(self.within_in, Unit.IN))
        return self

    @property
    def is_of_each_point(self) -> bool:
        """Say whether every point has a result of its own."""
        return self.kind in OF_EACH_POINT


@dataclass(frozen=True, slots=True)
class ReadOn:
    """The scale a series is read on where it isn't the gauge's own: unit (mm, µm, in, µin) and step in that unit."""

    unit: str
    step: Decimal


@dataclass(frozen=True, slots=True)
class Series:
    """One thing that is measured.

    ``code`` names it in points; ``needs`` is the measuring function a gauge must have ("" for all). ``places`` are
    taken at every length where ``each_place``, in turn otherwise; ``directions`` up, or up and then down.
    ``reads`` is one of ``READS``; ``serves`` the function that an element must serve ("" for nothing to compare
    with); ``within_mm`` how far a reference may lie from the length where a difference is read. ``most_blocks`` of a
    stack. ``repeats`` readings at each point; a spread beyond ``spread_limit_mm`` rejects (None: half the width of the
    limits). ``band_mm`` is half the wavelength of the light where bands are counted. ``budget`` None: the
    procedure's. ``on``: the scale read, where not the gauge's. ``order``: a difference is read as rounds of R (the
    reference) and G (the gauge), each round a repeat; what counts is the mean of the rounds.
    """

    code: str
    name: str
    lengths: Lengths
    results: tuple[ResultRule, ...]
    reading_rule: str
    needs: str = ""
    places: tuple[str, ...] = ()
    each_place: bool = False
    directions: tuple[str, ...] = ()
    reads: str = "indication"
    serves: str = ""
    within_mm: Decimal = Decimal("0.1")
    most_blocks: int = 4
    repeats: int = 1
    spread_limit_mm: Decimal | None = None
    band_mm: Decimal | None = None
    on: ReadOn | None = None
    order: str = ""
    caution: str = ""
    sketch: str = ""
    budget: tuple[Mapping[str, Any], ...] | None = None

    @property
    def measures(self) -> str:
        """Give the function of the gauge that the series measures; empty for what belongs to the whole gauge."""
        return self.needs or self.serves

    @property
    def readings(self) -> int:
        """Give the readings that a point needs: its repeats, or its rounds of reference and gauge."""
        return self.repeats * max(1, len(self.order))

    @property
    def point_rule(self) -> ResultRule | None:
        """Give the result that every point of the series has; None where only several together have one."""
        return next((rule for rule in self.results if rule.is_of_each_point), None)

    @property
    def common_rules(self) -> tuple[ResultRule, ...]:
        """Give the results that come of several points together."""
        return tuple(rule for rule in self.results if not rule.is_of_each_point)


_PLACE_WORDS = {
    "near_beam": "near the beam",
    "middle": "middle",
    "tips": "tips",
    "centre": "centre",
    "entry": "entry",
    "far": "far end",
    "low": "low",
    "high": "high",
}


def place_words(code: str) -> str:
    """Put the code of a place into words: entry/90 is entry, 90°; edge-180 is edge at 180°; corner-2 is corner 2."""
    section, slash, angle = code.partition("/")
    if slash:
        return f"{place_words(section)}, {angle}°"
    name, dash, number = code.partition("-")
    if dash and number.isdigit():
        return f"edge at {number}°" if name == "edge" else f"{name.replace('_', ' ')} {number}"
    return _PLACE_WORDS.get(code, code.replace("_", " ").replace("-", " "))
