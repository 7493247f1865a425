"""Limits to start with for gauge blocks: deviation at any point and variation of length, by grade.

Lives here: the lines of one grade. May not live here: limits in force.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from instruments.procedures.shipped.limits.records import (
    AsMade,
    NoStartingLimits,
    StartingLimits,
    at_most,
    both_ways,
)
from instruments.procedures.shipped.limits.tables import reaching, table, um

_SAME = {"AS-1": "1", "AS-2": "2"}
_SHORTEST_MM = Decimal("0.5")


def of_blocks(made: AsMade) -> StartingLimits:
    """Give limits to start with up to the longest block; ``grade`` is K, 00, 0, 1, 2, AS-1 or AS-2.

    Blocks in inches have none: the table at hand is from memory and weak. Raises NoStartingLimits.
    """
    known, grade = table("gauge-blocks"), _SAME.get(made.grade, made.grade)
    last = reaching(known["rows"], made.range_high_mm)
    if last is None or grade not in last or made.unit == "in" or made.range_high_mm < _SHORTEST_MM:
        raise NoStartingLimits(what=f"gauge blocks {made.words}")
    rows: list[dict[str, Any]] = []
    for line in known["rows"][: known["rows"].index(last) + 1]:
        deviation, variation = line[grade]
        rows.append(both_ways("size", Decimal(line["to_mm"]), um(deviation)))
        rows.append(at_most("variation", Decimal(line["to_mm"]), um(variation)))
    return StartingLimits(tuple(rows), known["source"])
