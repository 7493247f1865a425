"""Limits of error to start with, by step and function; every one of them *not confirmed*.

Lives here: what a laboratory may load before it has looked its own limits up. May not live here: limits in force
(they stand with the gauge's model, the gauge or the agreement).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from labsys.errors import LabError
from labsys.metrology.exact import plain

_TABLE_SOURCE = (
    "DIN 862 as shown in a one-page public extract, edition not named; inside and depth 0.02 mm more as shown there, "
    "step and small bore taken like depth and inside (common practice, no source)"
)
_INCH_SOURCE = (
    "TB 9-5210-208-35: 0.001 in for the first 6 in of the beam and 0.001 in for each further 6 in, outside and inside; "
    "depth, step and small bore taken alike (common practice, no source)"
)
_INCH = Decimal("25.4")
_MORE_MM = Decimal("0.02")

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


class NoStartingLimits(LabError, ValueError):
    """No limits ship for this step or this length."""

    code: ClassVar[str] = "no-starting-limits"
    sentence: ClassVar[str] = (
        "No limits ship for a caliper stepping {step} {unit} over {range_mm} mm. Enter the maker's or the owner's."
    )


@dataclass(frozen=True, slots=True)
class StartingLimits:
    """Rows as limits travel (``function``, ``up_to_mm``, ``lower_mm``, ``upper_mm``), their source, never confirmed."""

    rows: tuple[dict[str, Any], ...]
    source: str
    confirmed: bool = False


def caliper_limits(
    *, step: Decimal, unit: str, range_high_mm: Decimal, functions: tuple[str, ...]
) -> StartingLimits:
    """Give limits to start with, for a ``step`` in ``unit`` ("mm" or "in"); raises NoStartingLimits."""
    lengths = _inch_limits(range_high_mm) if unit == "in" else _metric_limits(step, range_high_mm)
    if not lengths or (unit == "in" and plain(step) not in _INCH_STEPS):
        raise NoStartingLimits(step=step, unit=unit, range_mm=range_high_mm)
    more = Decimal(0) if unit == "in" else _MORE_MM
    rows = [
        _row(function, up_to_mm, limit_mm + (Decimal(0) if function == "outside" else more))
        for function in functions
        for up_to_mm, limit_mm in lengths
    ]
    return StartingLimits(tuple(rows), _INCH_SOURCE if unit == "in" else _TABLE_SOURCE)


def _metric_limits(step: Decimal, range_high_mm: Decimal) -> list[tuple[Decimal, Decimal]]:
    column = _COLUMNS.get(plain(step))
    if column is None:
        return []
    rows: list[tuple[Decimal, Decimal]] = []
    for row in _TABLE:
        limit_um = row[column]
        if limit_um is None:
            return []
        rows.append((Decimal(row[0]), Decimal(limit_um) / 1000))
        if row[0] >= range_high_mm:
            return rows
    return []


def _inch_limits(range_high_mm: Decimal) -> list[tuple[Decimal, Decimal]]:
    rows: list[tuple[Decimal, Decimal]] = []
    while not rows or rows[-1][0] < range_high_mm:
        sixes = len(rows) + 1
        rows.append((6 * sixes * _INCH, sixes * _INCH / 1000))
    return rows


def _row(function: str, up_to_mm: Decimal, limit_mm: Decimal) -> dict[str, Any]:
    limit = format(plain(limit_mm), "f")
    return {
        "function": function,
        "up_to_mm": format(plain(up_to_mm), "f"),
        "lower_mm": f"-{limit}",
        "upper_mm": limit,
    }
