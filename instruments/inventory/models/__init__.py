"""Tables of the inventory: models and gauges, limits, states and custody, sets and pairs, sheets brought in."""

from __future__ import annotations

from instruments.inventory.models.gauges import Gauge, GaugeModel, Unit
from instruments.inventory.models.life import CustodyEvent, GaugeState
from instruments.inventory.models.limits import LimitRow, LimitSet
from instruments.inventory.models.sets import Member, Pairing
from instruments.inventory.models.sheets import GaugeImport

__all__ = [
    "CustodyEvent",
    "Gauge",
    "GaugeImport",
    "GaugeModel",
    "GaugeState",
    "LimitRow",
    "LimitSet",
    "Member",
    "Pairing",
    "Unit",
]
