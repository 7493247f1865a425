"""The parts of a procedure's content, as frozen records with their units.

Lives here: what a procedure may say. May not live here: how it is read or written (parsing.py, writing.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from instruments.procedures.content.lengths import LEFT_OUT, Band, band_of
from instruments.procedures.content.series import Series
from labsys.laboratory.models import MeasuringFunction
from labsys.metrology.plan import Window
from labsys.metrology.units import Quantity

FUNCTIONS: dict[str, str] = {
    function.value: str(function.label)
    for function in (
        MeasuringFunction.OUTSIDE,
        MeasuringFunction.INSIDE,
        MeasuringFunction.DEPTH,
        MeasuringFunction.STEP,
        MeasuringFunction.SMALL_BORE,
    )
}
"""Measuring functions a procedure can speak of, with the words people read."""

PLACES: dict[str, str] = {"near_beam": "near the beam", "middle": "middle", "tips": "tips"}
"""Places along the jaws, from the beam outward."""

INDICATIONS = ("digital", "dial", "vernier")
"""Ways a gauge shows its reading (a dial or vernier is read by eye)."""

LOOK_SUBJECTS = (*MeasuringFunction.values, *INDICATIONS, "knife-edges", "nibs")
"""What a look can be about; one about a thing that the gauge lacks does not apply."""


@dataclass(frozen=True, slots=True)
class Look:
    """Something looked at or tried before measuring.

    ``only_for`` names functions, indications or kinds of inside jaws; empty means every gauge of the family.
    ``ends_job``: where it is not good the gauge is rejected without measuring.
    """

    code: str
    text: str
    caution: str = ""
    only_for: tuple[str, ...] = ()
    ends_job: bool = False


ZEROS: dict[str, str] = {
    "faces": "the measuring faces closed on each other",
    "low-end": "the faces closed, or the setting standard of the low end of the range between them",
    "reference": "the comparator on its reference",
    "plate": "blade and base on one flat face",
    "none": "nothing: the gauge has no zero",
}
"""What the zero is read on."""


@dataclass(frozen=True, slots=True)
class ZeroPolicy:
    """How the zero is treated: set once, verified at the end within ``allowed_steps`` steps.

    ``fixed``: the gauges of this procedure can't be set; the as-found zero then counts as an error. ``how``: what it
    is read on; ``text``: what to do, where the usual words don't say it.
    """

    fixed: bool = False
    allowed_steps: int = 1
    how: str = "faces"
    text: str = ""


@dataclass(frozen=True, slots=True)
class PointRules:
    """Which points a gauge of the family needs.

    ``bands`` ascend by range, the last one holds beyond it. Outside points spread from the lowest ``low_share`` of
    the range to at least ``far_share`` of it, use every one of ``places`` and differ in place from their neighbour;
    ``longest_at`` are the places the longest is taken at. ``windows`` name the functions with one point each;
    the small bore only where ``small_bore_jaws`` are fitted. ``phase``: "warning" or "rule" for lengths that all
    lie at one phase of the scale's period. ``stack_at_most``: most blocks in one stack. ``order``: "set-up" lets
    work go by set-up, "fixed" keeps the order given. ``source`` says where the counts come from and
    ``confirmed`` whether the laboratory has checked them against it.
    """

    bands: tuple[Band, ...]
    windows: Mapping[str, Window]
    places: tuple[str, ...] = ("near_beam", "middle", "tips")
    longest_at: tuple[str, ...] = ("near_beam", "tips")
    low_share: Decimal = Decimal("0.334")
    far_share: Decimal = Decimal("0.9")
    small_bore_jaws: tuple[str, ...] = ("knife-edges",)
    phase: str = "warning"
    stack_at_most: int = 4
    order: str = "set-up"
    source: str = ""
    confirmed: bool = False

    def wants_small_bore(self, functions: tuple[str, ...], inside_jaws: str) -> bool:
        """Say whether a gauge with these functions and inside jaws is measured in a small bore."""
        has_jaws = "inside" in functions or "small_bore" in functions
        return "small_bore" in self.windows and has_jaws and inside_jaws in self.small_bore_jaws

    def functions_of(self, functions: tuple[str, ...], inside_jaws: str) -> tuple[str, ...]:
        """Give the functions of a gauge that get points, in the order they are measured in."""
        wanted = [name for name in FUNCTIONS if name in functions and name != "small_bore"]
        known = [name for name in wanted if name == "outside" or name in self.windows]
        return (*known, "small_bore") if self.wants_small_bore(functions, inside_jaws) else tuple(known)

    def band_for(self, range_high_mm: Decimal) -> Band:
        """Find the band of a measuring range; ranges beyond the last use the last."""
        return band_of(self.bands, range_high_mm)


@dataclass(frozen=True, slots=True)
class ConditionLimits:
    """What the room must be like: temperature in °C, relative humidity in %, soak time in minutes."""

    temperature_low_c: Decimal
    temperature_high_c: Decimal
    humidity_low: Decimal
    humidity_high: Decimal
    soak_minutes: int


@dataclass(frozen=True, slots=True)
class ReferenceNeeds:
    """How good a standard must be: its expanded uncertainty at most ``U_mm + U_per_mm · L``; ``kinds`` in words."""

    U_mm: Decimal
    U_per_mm: Decimal
    kinds: tuple[str, ...] = ()

    def most_U_mm(self, length_mm: Decimal) -> Decimal:
        """Give the largest expanded uncertainty allowed for a reference of this length, in mm."""
        return self.U_mm + self.U_per_mm * length_mm


@dataclass(frozen=True, slots=True)
class Repeatability:
    """The pooled study: standard deviation of one reading in mm, its degrees of freedom, where it comes from."""

    s_mm: Decimal
    degrees_of_freedom: int
    source: str = ""


@dataclass(frozen=True, slots=True)
class Content:
    """Everything one revision of a procedure says.

    ``method`` names the documents followed, with edition; ``reading_rules`` what counts as the reading, by function;
    ``readable_parts`` into how many parts a step or division is read, by indication (one where not named).
    ``repeats``: readings per point, all kept, judged by the one with the least margin; a spread beyond
    ``spread_limit_mm`` rejects (None: half the width of the limits).
    ``budget``: component specs in the form of ``labsys.metrology.specs``; ``rule``: the default decision rule in the
    form of ``labsys.metrology.rules``, used where nothing else is agreed. ``points`` are the rules for gauges whose
    points spread over range and measuring faces, ``series`` everything else that is measured; a procedure has either
    or both. ``probability``, ``digits``, ``rounding``:
    coverage and reporting of U. ``starting_values``: sentences saying what in here nobody has confirmed yet.
    """

    scope: str
    method: tuple[str, ...]
    cautions: tuple[str, ...]
    looks: tuple[Look, ...]
    zero: ZeroPolicy
    points: PointRules | None
    reading_rules: Mapping[str, str]
    readable_parts: Mapping[str, int]
    repeats: int
    spread_limit_mm: Decimal | None
    conditions: ConditionLimits
    references: ReferenceNeeds
    budget: tuple[Mapping[str, Any], ...]
    repeatability: Repeatability | None
    probability: float
    digits: int
    rounding: str
    rule: Mapping[str, Any]
    starting_values: tuple[str, ...] = ()
    series: tuple[Series, ...] = ()
    quantity: str = field(default="length", metadata={LEFT_OUT: True})

    @property
    def measures(self) -> Quantity:
        """Say what is measured; of angles every ``_mm`` is in arc seconds."""
        return Quantity(self.quantity)

    def series_of(self, code: str) -> Series | None:
        """Find a series by its code; None for a point that the rules of the faces ask for."""
        return next((one for one in self.series if one.code == code), None)

    def series_for(self, functions: tuple[str, ...]) -> tuple[Series, ...]:
        """Give the series that apply to a gauge with these functions, in the order they are measured."""
        return tuple(one for one in self.series if not one.needs or one.needs in functions)

    def serving(self, code: str) -> str:
        """Give the function that an element must serve for this series or function; empty where nothing is compared."""
        one = self.series_of(code)
        return code if one is None else one.serves

    def repeats_at(self, code: str) -> int:
        """Give the readings that a point of this series or function needs."""
        one = self.series_of(code)
        return max(1, self.repeats if one is None else one.readings)

    def spread_limit_at(self, code: str) -> Decimal | None:
        """Give the most in mm that the readings of one point may spread over; None: half the width of its limits."""
        one = self.series_of(code)
        return self.spread_limit_mm if one is None else one.spread_limit_mm

    def reading_rule_of(self, code: str) -> str:
        """Say what counts as the reading of this series or function; empty where nothing is said."""
        one = self.series_of(code)
        return self.reading_rules.get(code, "") if one is None else one.reading_rule

    def name_of(self, code: str) -> str:
        """Name what a point measures: the series' name, or the measuring function."""
        one = self.series_of(code)
        return one.name if one is not None else FUNCTIONS.get(code, code.replace("_", " "))

    def looks_for(self, functions: tuple[str, ...], indication: str, inside_jaws: str) -> tuple[Look, ...]:
        """Give the looks that apply to a gauge with these functions, this indication and these inside jaws."""
        has = {*functions, indication, inside_jaws}
        return tuple(look for look in self.looks if not look.only_for or has.intersection(look.only_for))
