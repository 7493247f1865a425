"""Limits to start with for indicators and bore gauges: spans over the travel, hysteresis, repeatability.

Lives here: which line of their table holds. May not live here: limits in force.
"""

from __future__ import annotations

from decimal import Decimal

from instruments.procedures.shipped.limits.records import AsMade, NoStartingLimits, StartingLimits, at_most
from instruments.procedures.shipped.limits.tables import table, um
from labsys.laboratory.models import CHARACTERISTICS


def of_indicator(family: str, made: AsMade) -> StartingLimits:
    """Give limits to start with for an indicator of this family by step and range; raises NoStartingLimits."""
    span = made.range_high_mm - made.range_low_mm
    fitting = (
        row
        for row in table("indicators")["rows"]
        if row["family"] == family
        and row.get("unit", made.unit) == made.unit
        and made.step_mm <= Decimal(row["step_up_to_mm"])
        and span <= Decimal(row["range_up_to_mm"])
    )
    found = next(fitting, None)
    if found is None:
        raise NoStartingLimits(what=f"a {family.replace('-', ' ')} {made.words}")
    rows = [
        at_most(code, made.range_high_mm, um(value))
        for code, value in found.items()
        if code in CHARACTERISTICS
    ]
    return StartingLimits(tuple(rows), found["source"])
