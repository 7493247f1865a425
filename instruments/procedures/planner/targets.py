"""The outside lengths a gauge should be measured at, before it is known what makes them.

Lives here: from the bands of a procedure and a measuring range to lengths in mm. May not live here: standards.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from typing import Protocol

from instruments.procedures.content import PointRules
from instruments.procedures.content.lengths import Spread
from labsys.metrology.units import Unit, to_mm

# Lengths that a procedure doesn't name are put on a raster people can read: 0.1 mm, 0.05 in, a degree.
_RASTER = {
    Unit.MM: Decimal("0.1"),
    Unit.IN: to_mm(Decimal("0.05"), Unit.IN),
    Unit.DEG: to_mm(Decimal(1), Unit.DEG),
    Unit.ARCMIN: to_mm(Decimal(1), Unit.DEG),
}

_ROUND = {
    Unit.MM: Decimal(5),
    Unit.IN: to_mm(Decimal("0.25"), Unit.IN),
    Unit.DEG: to_mm(Decimal(5), Unit.DEG),
    Unit.ARCMIN: to_mm(Decimal(5), Unit.DEG),
}


class Ranged(Protocol):
    """Something with a unit and a measuring range in mm: a gauge's model."""

    @property
    def unit(self) -> str:
        """The unit shown."""
        ...

    @property
    def range_low_mm(self) -> Decimal:
        """Where the range begins."""
        ...

    @property
    def range_high_mm(self) -> Decimal:
        """Where the range ends."""
        ...


def outside_targets(rules: PointRules | Spread, model: Ranged) -> tuple[Decimal, ...]:
    """Give the lengths to aim at, ascending, in mm: those the procedure names, and what they lack.

    There are at least as many as the band asks for, one of them in the low share of the range and one in the far.
    """
    band = rules.band_for(model.range_high_mm)
    low, high = model.range_low_mm, model.range_high_mm
    span, unit = high - low, Unit(model.unit)
    named = [to_mm(length, Unit.IN) for length in band.lengths_in] if unit is Unit.IN else []
    lengths = {length for length in named or band.lengths_mm if low < length <= high}
    if not any(length >= low + rules.far_share * span for length in lengths):
        lengths.add(high)
    lowest = low + rules.low_share * span
    if not any(length <= lowest for length in lengths):
        lengths.add(_on_raster((low + lowest) / 2, unit, low, lowest))
    while len(lengths) < band.least_points:
        lengths.add(_in_widest_gap(low, sorted(lengths), unit))
    return tuple(sorted(lengths))


def round_lengths(low: Decimal, high: Decimal, unit: Unit) -> list[Decimal]:
    """Give the round lengths above ``low`` up to ``high``, in mm: every 5 mm, or every quarter of an inch."""
    step = _ROUND[unit]
    first, last = int(low // step) + 1, int(high // step)
    return [step * number for number in range(first, last + 1)]


def _in_widest_gap(low: Decimal, lengths: list[Decimal], unit: Unit) -> Decimal:
    gaps = list(zip([low, *lengths[:-1]], lengths, strict=True))
    start, end = max(gaps, key=lambda gap: (gap[1] - gap[0], -gap[0]))
    return _on_raster((start + end) / 2, unit, start, end)


def _on_raster(length: Decimal, unit: Unit, above: Decimal, below: Decimal) -> Decimal:
    """Round to the raster, unless that leaves the gap (a gauge with a range of a few tenths)."""
    raster = _RASTER[unit]
    rounded = (length / raster).quantize(Decimal(1), ROUND_HALF_EVEN) * raster
    return rounded if above < rounded < below else length
