"""Lengths as they are printed on a certificate, in the gauge's unit: as many decimals as say something."""

from __future__ import annotations

from decimal import Decimal

from labsys.metrology.angle_readings import angle_text
from labsys.metrology.exact import plain
from labsys.metrology.reporting import MINUS, decimals_of
from labsys.metrology.units import Quantity, Unit, from_mm


def length_text(value_mm: Decimal, unit: Unit, *, least: int = 0, more: int = 3) -> str:
    """Print a length in ``unit`` with ``least`` decimals, and up to ``more`` besides where it doesn't end there.

    An angle is printed whole and with its marks, 45° 05′.
    """
    if unit.quantity is Quantity.ANGLE:
        return angle_text(value_mm, unit)
    exact = plain(from_mm(value_mm, unit))
    decimals = min(max(decimals_of(exact), least), least + more)
    return f"{from_mm(value_mm, unit, decimals=decimals):f}".replace("-", MINUS)
