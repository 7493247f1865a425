"""Which scale is read: the gauge's own, or that of the instrument a series is read on.

Lives here: unit and step of what is read. May not live here: reading text.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.procedures.content import Content
from labsys.metrology.units import Unit, to_mm

BAND_PARTS = 2
"""Interference bands are told apart by half a band (common practice, no source)."""


@dataclass(frozen=True)
class Scale:
    """A scale: its unit, the smallest difference that can be read in that unit, and half of it in mm."""

    unit: Unit
    step: Decimal

    @property
    def step_mm(self) -> Decimal:
        """Give the smallest difference that can be read, in mm."""
        return to_mm(self.step, self.unit)


def scale_of(code: str, model: GaugeModel, content: Content) -> Scale:
    """Give the scale that a series or function is read on; bands and fits are read on none but their own count."""
    one = content.series_of(code)
    if one is not None and one.on is not None:
        return Scale(Unit(one.on.unit), one.on.step)
    if one is not None and one.band_mm is not None:
        return Scale(Unit.MM, one.band_mm / BAND_PARTS)
    return Scale(Unit(model.unit), readable_step(model, content))


def zero_scale(model: GaugeModel, content: Content) -> Scale:
    """Give the scale that the zero is read on: that of the comparator where it is set on a reference."""
    if content.zero.how == "reference":
        own = next((one for one in content.series if one.on is not None), None)
        if own is not None:
            return scale_of(own.code, model, content)
    return Scale(Unit(model.unit), model.resolution)


def zero_read_to_mm(model: GaugeModel, content: Content) -> Decimal:
    """Give how finely the zero is set and read, in mm: a step of its scale, or for a series the part that is read."""
    by_comparator = content.zero.how == "reference" and any(one.on is not None for one in content.series)
    if by_comparator or content.points is not None:
        return zero_scale(model, content).step_mm
    return to_mm(readable_step(model, content), Unit(model.unit))


def readable_step(model: GaugeModel, content: Content) -> Decimal:
    """Give the smallest difference that can be read, in the unit shown: one step, or a part of a division."""
    parts = content.readable_parts.get(model.indication, 1)
    return Decimal(model.resolution / parts)
