"""A micrometer and the setting rod that belongs to it: the rod is past due, so the micrometer may not be used."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from instruments.desk.demo import stories
from instruments.desk.demo.plant import MAKER
from instruments.desk.demo.setting_up import LOADER
from instruments.desk.demo.world import World
from instruments.inventory.operations import GaugeData, ModelData, register_gauge, register_model
from instruments.recall.operations import pair
from labsys.laboratory.operations import add_family

ROD, MICROMETER = "ROD-01", "M-0009"
LAPSED_DAYS = 374
"""Days ago of the rod's last calibration, which holds for twelve months."""


def bring_in(world: World, now: datetime) -> None:
    """Register the rod, sent out to be calibrated as nobody here has a procedure for rods, and pair it."""
    manager = world.people["manager"]
    family = add_family(
        code="setting-rod",
        name="Setting rod",
        bench_hours=Decimal("0.3"),
        interval_months=12,
        by=LOADER,
        now=now,
    )
    data = ModelData(
        family=family,
        maker=MAKER,
        designation="Setting rod 25",
        indication="none",
        resolution=Decimal("0.001"),
        range_high_mm=Decimal(25),
        functions=("size",),
    )
    gauge = world.gauges[MICROMETER]
    rod = GaugeData(
        tag=ROD,
        model=register_model(data=data, by=manager, now=now),
        serial="R 25-118",
        department=gauge.department,
        place=gauge.place,
        custodian=gauge.custodian,
        functions=("size",),
    )
    world.gauges[ROD] = register_gauge(data=rod, by=manager, now=now)
    stories.outside(world, ROD, LAPSED_DAYS)
    world.plan(world.at(60, 9), lambda at: _pair(world, at))


def _pair(world: World, at: datetime) -> None:
    manager = world.people["manager"]
    pair(gauge=world.gauges[MICROMETER], master=world.gauges[ROD], by=manager, now=at)
