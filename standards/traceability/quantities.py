"""What a service measures, in the words that scopes and certificates are matched by."""

from __future__ import annotations

from labsys.metrology.units import Quantity, Unit
from standards.register.models import Standard

QUANTITIES = {
    "gauge-block": "length of gauge blocks",
    "step": "steps of check bars",
    "ring": "diameter of rings",
    "pin": "diameter of pins and plugs",
    "length": "lengths shown by measuring machines, comparators and projectors",
    "flatness": "flatness",
    "temperature": "temperature",
    "angle": "angles of blocks, polygons and sine bars",
}
OF_ANGLES = ("angle",)
"""Services whose ranges and smallest U are in arc seconds."""
CHOICES = tuple(QUANTITIES.items())
USUAL = {
    Standard.Kind.BLOCK_SET: "gauge-block",
    Standard.Kind.CHECK_BAR: "step",
    Standard.Kind.RING: "ring",
    Standard.Kind.PIN: "pin",
    Standard.Kind.WIRES: "pin",
    Standard.Kind.OPTICAL_FLAT: "flatness",
    Standard.Kind.MICROMETER: "length",
    Standard.Kind.THERMOMETER: "temperature",
    Standard.Kind.ANGLE_BLOCKS: "angle",
    Standard.Kind.POLYGON: "angle",
    Standard.Kind.SINE_BAR: "angle",
}


def base_of(service: str) -> Unit:
    """Give the unit that ranges and smallest U of a service are kept in."""
    return (Quantity.ANGLE if service in OF_ANGLES else Quantity.LENGTH).base
