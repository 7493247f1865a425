"""Limits to start with for protractors.

Lives here: the one line there is. May not live here: limits in force.
"""

from __future__ import annotations

from decimal import Decimal

from instruments.procedures.shipped.limits.records import AsMade, NoStartingLimits, StartingLimits, both_ways
from labsys.metrology.units import Quantity, Unit, to_mm

_LIMIT = to_mm(Decimal(5), Unit.ARCMIN)
_SOURCE = (
    "±5′ for bevel protractors with a vernier of 5′: from memory; taken for displays of 0.01° and 1′ too (common "
    "practice, no source)"
)


def of_protractor(made: AsMade) -> StartingLimits:
    """Give ±5′ (in arc seconds) for steps up to 5′; raises NoStartingLimits for coarser ones, or a unit of length."""
    if Unit(made.unit).quantity is not Quantity.ANGLE or made.step_mm > _LIMIT:
        raise NoStartingLimits(what=f"a protractor {made.words}")
    return StartingLimits((both_ways("angle", made.range_high_mm, _LIMIT),), _SOURCE)
