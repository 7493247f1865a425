"""Limits to start with for gauges that slide on a beam: calipers, depth gauges, height gauges.

Lives here: which line of the tables holds for them. May not live here: limits in force (they stand with the gauge's
model, the gauge or the agreement).
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from instruments.procedures.shipped.limits.records import (
    AsMade,
    NoStartingLimits,
    StartingLimits,
    at_most,
    both_ways,
)
from labsys.metrology.exact import plain

_EXTRACT = "DIN 862 as shown in a one-page public extract, edition not named"
_TABLE_SOURCE = (
    f"{_EXTRACT}; inside and depth 0.02 mm more as shown there, "
    "step and small bore taken like depth and inside (common practice, no source)"
)
_INCH_SOURCE = (
    "TB 9-5210-208-35: 0.001 in for the first 6 in of the beam and 0.001 in for each further 6 in, outside and inside; "
    "depth, step and small bore taken alike (common practice, no source)"
)
_DEPTH_SOURCE = (
    f"{_EXTRACT}, outside lengths of calipers, for gauges that read inches the rule of TB 9-5210-208-35 for calipers; "
    "that depth gauges keep them, and one step for the repeatability, is common practice, no source"
)
_HEIGHT_SOURCE = (
    "From memory: vernier 0.02 mm as calipers (DIN 862), digital 0.01 mm 0.03 mm up to 300 mm and 0.04 mm up to "
    "600 mm; ISO 13225:2012 gives none. Parallelism of the scriber 5 µm to 10 µm from memory. That 0.0005 in is taken "
    "like 0.01 mm, and one step for the repeatability, is common practice, no source"
)
_INCH = Decimal("25.4")
_MORE_MM = Decimal("0.02")
_SCRIBER_MM = Decimal("0.01")

# up to length: for steps of 0.05, 0.02 and 0.01 mm, all in µm; None where the extract shows nothing
_TABLE: tuple[tuple[int, int, int, int | None], ...] = (
    (100, 50, 20, 20),
    (300, 50, 30, 30),
    (400, 60, 30, 30),
    (500, 70, 30, 30),
    (600, 80, 30, 30),
    (700, 90, 40, 40),
    (800, 100, 40, 40),
    (900, 110, 40, 40),
    (1000, 120, 40, 40),
    (1200, 140, 50, None),
    (1400, 160, 50, None),
    (1600, 180, 60, None),
    (1800, 200, 60, None),
    (2000, 220, 60, None),
)
_COLUMNS = {Decimal("0.05"): 1, Decimal("0.02"): 2, Decimal("0.01"): 3}
_INCH_STEPS = (Decimal("0.001"), Decimal("0.0005"))
_DIGITAL_HEIGHTS = ((Decimal(300), Decimal("0.03")), (Decimal(600), Decimal("0.04")))
_DIGITAL_STEPS_MM = (Decimal("0.01"), Decimal("0.0127"))

Lengths = list[tuple[Decimal, Decimal]]


def caliper_limits(
    *, step: Decimal, unit: str, range_high_mm: Decimal, functions: Sequence[str]
) -> StartingLimits:
    """Give limits to start with, for a ``step`` in ``unit`` ("mm" or "in"); raises NoStartingLimits."""
    made = AsMade(step=step, unit=unit, range_high_mm=range_high_mm, functions=tuple(functions))
    lengths = _beam(made, "a caliper")
    more = Decimal(0) if unit == "in" else _MORE_MM
    rows = [
        both_ways(function, up_to_mm, limit_mm + (Decimal(0) if function == "outside" else more))
        for function in made.functions
        for up_to_mm, limit_mm in lengths
    ]
    return StartingLimits(tuple(rows), _INCH_SOURCE if unit == "in" else _TABLE_SOURCE)


def of_caliper(made: AsMade) -> StartingLimits:
    """Give limits to start with for a caliper; raises NoStartingLimits."""
    return caliper_limits(
        step=made.step, unit=made.unit, range_high_mm=made.range_high_mm, functions=made.functions
    )


def of_depth_gauge(made: AsMade) -> StartingLimits:
    """Give limits to start with for a depth gauge with a beam; raises NoStartingLimits."""
    lengths = _beam(made, "a depth gauge")
    rows = [both_ways("depth", up_to_mm, limit_mm) for up_to_mm, limit_mm in lengths]
    rows.append(at_most("repeatability", made.range_high_mm, made.step_mm))
    return StartingLimits(tuple(rows), _DEPTH_SOURCE)


def of_height_gauge(made: AsMade) -> StartingLimits:
    """Give limits to start with for a height gauge with scriber; raises NoStartingLimits."""
    lengths = _heights(made)
    rows = [both_ways("height", up_to_mm, limit_mm) for up_to_mm, limit_mm in lengths]
    rows.append(at_most("repeatability", made.range_high_mm, made.step_mm))
    rows.append(at_most("parallelism", made.range_high_mm, _SCRIBER_MM))
    return StartingLimits(tuple(rows), _HEIGHT_SOURCE)


def _heights(made: AsMade) -> Lengths:
    if made.unit == "mm" and plain(made.step) == Decimal("0.02"):
        return _beam(made, "a height gauge")
    if made.step_mm not in _DIGITAL_STEPS_MM or made.range_high_mm > _DIGITAL_HEIGHTS[-1][0] + _INCH:
        raise NoStartingLimits(what=f"a height gauge {made.words}")
    # A range of 24 in ends a little beyond 600 mm; the last line goes on to its end.
    return [*_DIGITAL_HEIGHTS[:-1], (max(Decimal(600), made.range_high_mm), _DIGITAL_HEIGHTS[-1][1])]


def _beam(made: AsMade, what: str) -> Lengths:
    """Give limits by length for a gauge on a beam; raises NoStartingLimits."""
    if made.unit == "in":
        lengths = _inch_limits(made.range_high_mm) if plain(made.step) in _INCH_STEPS else []
    else:
        lengths = _metric_limits(made.step, made.range_high_mm)
    if not lengths:
        raise NoStartingLimits(what=f"{what} {made.words}")
    return lengths


def _metric_limits(step: Decimal, range_high_mm: Decimal) -> Lengths:
    column = _COLUMNS.get(plain(step))
    if column is None:
        return []
    rows: Lengths = []
    for row in _TABLE:
        limit_um = row[column]
        if limit_um is None:
            return []
        rows.append((Decimal(row[0]), Decimal(limit_um) / 1000))
        if row[0] >= range_high_mm:
            return rows
    return []


def _inch_limits(range_high_mm: Decimal) -> Lengths:
    rows: Lengths = []
    while not rows or rows[-1][0] < range_high_mm:
        sixes = len(rows) + 1
        rows.append((6 * sixes * _INCH, sixes * _INCH / 1000))
    return rows
