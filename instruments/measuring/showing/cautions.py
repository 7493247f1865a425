"""The cautions that stand beside a point: where the hands are, in one short sentence each.

The usual ones of the trade. Local rules and the procedure's own cautions come first and stand on the page too.
"""

from __future__ import annotations

from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.measuring.models import Point
from labsys.metrology.units import Quantity

HEAVY_FROM_MM = Decimal(300)
"""References from this length on are heavy and slip (common practice, no source)."""


def of_point(point: Point, model: GaugeModel) -> tuple[str, ...]:
    """Give the cautions that apply at a point, the nearest to the hand first."""
    found = []
    if point.function in ("inside", "small_bore") and model.inside_jaws == GaugeModel.InsideJaws.KNIFE_EDGES:
        found.append("The crossed knife-edges cut. Hold the caliper by its beam.")
    if point.place == "tips":
        found.append("The tips cut. Close the jaws slowly.")
    if point.function == "depth":
        found.append("The end of the depth rod is pointed.")
    if model.quantity is Quantity.LENGTH and point.nominal_mm >= HEAVY_FROM_MM:
        found.append("Long references are heavy and slip: both hands, two people for a long caliper.")
    return tuple(found)
