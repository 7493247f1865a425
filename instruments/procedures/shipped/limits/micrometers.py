"""Limits to start with for outside, depth and inside micrometers.

Lives here: which line of their tables holds. May not live here: limits in force.
"""

from __future__ import annotations

from decimal import ROUND_DOWN, Decimal

from instruments.procedures.shipped.limits.records import (
    AsMade,
    NoStartingLimits,
    StartingLimits,
    at_most,
    both_ways,
)
from instruments.procedures.shipped.limits.tables import table, um

_ONE_TRAVEL_MM = Decimal("25.4")
_COARSEST_MM = Decimal("0.01")
_COARSEST_OF_ALL_MM = Decimal("0.0254")
"""One thousandth of an inch, the division of a plain inch thimble, which is read to a fifth."""

_DEPTH_SOURCE = (
    "Head ±3 µm over 25 mm and setting of a rod ±(2 + L/75) µm: from memory; both added for a rod at its end, "
    "and the repeatability: common practice, no source"
)
_JAWS_SOURCE = (
    "As an outside micrometer of that range (DIN 863-1 as shown in a one-page public extract) and 2 µm more, and the "
    "repeatability: common practice, no source"
)
_JAWS_MORE_MM = Decimal("0.002")


def of_outside(made: AsMade) -> StartingLimits:
    """Give limits to start with for an outside micrometer of one travel; raises NoStartingLimits."""
    known, line, high = table("micrometers"), _line(made, "an outside micrometer"), made.range_high_mm
    rows = (
        both_ways("outside", high, um(line["error"])),
        at_most("parallelism", high, um(line["parallelism"])),
        at_most("flatness", high, um(known["flatness"])),
        at_most("repeatability", high, _repeatability(made, "2", "4")),
    )
    return StartingLimits(rows, known["source"])


def of_depth(made: AsMade) -> StartingLimits:
    """Give limits to start with for a depth micrometer and its rods; raises NoStartingLimits."""
    if made.step_mm > _COARSEST_OF_ALL_MM:
        raise NoStartingLimits(what=f"a depth micrometer {made.words}")
    travel = _ONE_TRAVEL_MM if made.unit == "in" else Decimal(25)
    rows = [both_ways("depth", travel, Decimal("0.003"))]
    end = 2 * travel
    while end <= made.range_high_mm:
        setting_um = (2 + end / 75).quantize(Decimal(1), ROUND_DOWN)
        rows.append(both_ways("depth", end, (3 + setting_um) / 1000))
        end += travel
    rows.append(at_most("repeatability", made.range_high_mm, _repeatability(made, "3", "4")))
    return StartingLimits(tuple(rows), _DEPTH_SOURCE)


def of_inside(made: AsMade) -> StartingLimits:
    """Give limits to start with for an inside micrometer.

    ``build`` is *rod-and-sleeve*, *tubular* (changeable heads), *tubular-fixed*, or empty for jaws and three-point
    heads. Raises NoStartingLimits.
    """
    if made.build:
        known = table("inside-micrometers")
        fitting = [
            Decimal(row["error"])
            for row in known["rows"]
            if row["build"] == made.build
            and Decimal(row["from_mm"]) <= made.range_low_mm
            and made.range_high_mm <= Decimal(row["to_mm"])
        ]
        if not fitting or made.step_mm > _COARSEST_OF_ALL_MM:
            raise NoStartingLimits(what=f"an inside micrometer {made.words}")
        limit, source = min(fitting) / 1000, known["source"]
    else:
        limit = um(_line(made, "an inside micrometer")["error"]) + _JAWS_MORE_MM
        source = _JAWS_SOURCE
    repeatability = at_most("repeatability", made.range_high_mm, _repeatability(made, "4", "6"))
    return StartingLimits((both_ways("inside", made.range_high_mm, limit), repeatability), source)


def _line(made: AsMade, what: str) -> dict[str, str]:
    """Find the line of the range by its low end, as its formula counts; raises NoStartingLimits."""
    low, rows = made.range_low_mm, table("micrometers")["rows"]
    fits = made.range_high_mm - low <= _ONE_TRAVEL_MM and made.step_mm <= _COARSEST_OF_ALL_MM
    found = [row for row in rows if Decimal(row["from_mm"]) <= low < Decimal(row["to_mm"])]
    if not fits or not found:
        raise NoStartingLimits(what=f"{what} {made.words}")
    line: dict[str, str] = found[0]
    return line


def _repeatability(made: AsMade, fine_um: str, thimble_um: str) -> Decimal:
    return um(thimble_um if made.step_mm >= _COARSEST_MM else fine_um)
