"""What a service measures, in the words that scopes and certificates are matched by."""

from __future__ import annotations

from standards.register.models import Standard

QUANTITIES = {
    "gauge-block": "length of gauge blocks",
    "step": "steps of check bars",
    "ring": "diameter of rings",
    "pin": "diameter of pins and plugs",
    "temperature": "temperature",
}
CHOICES = tuple(QUANTITIES.items())
USUAL = {
    Standard.Kind.BLOCK_SET: "gauge-block",
    Standard.Kind.CHECK_BAR: "step",
    Standard.Kind.RING: "ring",
    Standard.Kind.PIN: "pin",
    Standard.Kind.THERMOMETER: "temperature",
}
