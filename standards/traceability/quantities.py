"""What a service measures, in the words that scopes and certificates are matched by."""

from __future__ import annotations

from standards.register.models import Standard

QUANTITIES = {
    "gauge-block": "length of gauge blocks",
    "step": "steps of check bars",
    "ring": "diameter of rings",
    "pin": "diameter of pins and plugs",
    "length": "lengths shown by measuring machines, comparators and projectors",
    "flatness": "flatness",
    "temperature": "temperature",
}
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
}
