"""Lengths, points and times as the bench says them, in the gauge's own unit and the laboratory's zone."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.measuring.evaluation import readable_step
from instruments.measuring.models import Point
from instruments.procedures.content import FUNCTIONS, PLACES, Content
from labsys.laboratory.queries import zone
from labsys.metrology.units import Unit, decimals_shown, from_mm
from labsys.pages import figures


def length(length_mm: Decimal, unit: str) -> str:
    """Write a length in a unit without padding: 41.3 mm, 1.625 in."""
    return figures.with_unit(figures.plain(from_mm(length_mm, Unit(unit))), unit)


def function(name: str) -> str:
    """Name a measuring function."""
    return FUNCTIONS.get(name, name.replace("_", " "))


def place(name: str) -> str:
    """Name a place on the faces as a sentence says it; empty for none."""
    return {"middle": "at the middle", "tips": "at the tips"}.get(name, PLACES.get(name, ""))


def point(found: Point, unit: str) -> str:
    """Name a point: Outside 41.3 mm, near the beam."""
    where = f", {place(found.place)}" if found.place else ""
    return f"{function(found.function).capitalize()} {length(found.nominal_mm, unit)}{where}"


def clock(instant: datetime) -> str:
    """Give the time of day in the laboratory's zone: 07:43."""
    return f"{instant.astimezone(zone()):%H:%M}"


def step_text(model: GaugeModel, content: Content) -> str:
    """Give the smallest difference that can be read, in the gauge's unit, as printed."""
    return figures.plain(readable_step(model, content))


def decimals(model: GaugeModel) -> int:
    """Count the decimals that a whole reading of the gauge has at least; parts of a division may add to them."""
    return decimals_shown(model.resolution)
