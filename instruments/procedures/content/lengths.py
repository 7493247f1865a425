"""Where the points of a series lie: one small record for each way of saying it.

Lives here: the ways and their fields, lengths in mm unless the name says inches. May not live here: what makes
a length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from labsys.metrology.plan import Window
from labsys.metrology.units import Unit, to_mm

LEFT_OUT: Final = "left_out"
"""Marks a field that came later: where it has its default it is not written, so that hashes that were signed stay."""


@dataclass(frozen=True, slots=True)
class FixedList:
    """The lengths named, those beyond the gauge's range left out; ``inch`` for gauges that read inches."""

    mm: tuple[Decimal, ...]
    inch: tuple[Decimal, ...] = ()
    kind: str = "list"


@dataclass(frozen=True, slots=True)
class FromLow:
    """Lengths added to the low end of the range, as for micrometers; ``with_low`` takes the low end itself too.

    Where the range begins at nothing the low end is the zero, and no point.
    """

    mm: tuple[Decimal, ...]
    inch: tuple[Decimal, ...] = ()
    with_low: bool = True
    kind: str = "from-low"


@dataclass(frozen=True, slots=True)
class Band:
    """Lengths for measuring ranges up to a limit: how many points at least, which lengths to propose first.

    ``lengths_mm`` (mm) serve gauges that read millimetres, ``lengths_in`` (inches) those that read inches; either
    list may be empty.
    """

    range_up_to_mm: Decimal
    least_points: int
    lengths_mm: tuple[Decimal, ...] = ()
    lengths_in: tuple[Decimal, ...] = ()


def band_of(bands: Sequence[Band], range_high_mm: Decimal) -> Band:
    """Find the band of a measuring range; ranges beyond the last use the last."""
    fitting = (band for band in bands if range_high_mm <= band.range_up_to_mm)
    return next(fitting, bands[-1])


@dataclass(frozen=True, slots=True)
class Spread:
    """Broken lengths spread over the range: so many at least by its size, one low, one at ``far_share`` or beyond."""

    bands: tuple[Band, ...]
    low_share: Decimal = Decimal("0.334")
    far_share: Decimal = Decimal("0.9")
    kind: str = "spread"

    def band_for(self, range_high_mm: Decimal) -> Band:
        """Find the band of a measuring range; ranges beyond the last use the last."""
        return band_of(self.bands, range_high_mm)


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of travel up to a length, read every so many mm."""

    up_to_mm: Decimal
    every_mm: Decimal


@dataclass(frozen=True, slots=True)
class InchSegment:
    """A stretch of travel of a gauge that reads inches: up to a length, read every so many, both in inches."""

    up_to_in: Decimal
    every_in: Decimal

    @property
    def in_mm(self) -> Segment:
        """Give the same stretch in mm."""
        return Segment(to_mm(self.up_to_in, Unit.IN), to_mm(self.every_in, Unit.IN))


@dataclass(frozen=True, slots=True)
class Segments:
    """A travel read close at first and wider later, from nothing to the end of the range.

    ``inch_parts`` for gauges that read inches, so that their lengths are round; empty: these read ``parts`` too.
    """

    parts: tuple[Segment, ...]
    inch_parts: tuple[InchSegment, ...] = field(default=(), metadata={LEFT_OUT: True})
    kind: str = "segments"

    def for_unit(self, unit: Unit) -> tuple[Segment, ...]:
        """Give the stretches of a gauge that reads ``unit``, in mm."""
        return (
            tuple(one.in_mm for one in self.inch_parts) if unit is Unit.IN and self.inch_parts else self.parts
        )


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of the measuring range from its low end: 0, 0.1 … 1."""

    of_range: tuple[Decimal, ...]
    kind: str = "shares"


@dataclass(frozen=True, slots=True)
class InWindow:
    """One length within a window."""

    window: Window
    kind: str = "window"


@dataclass(frozen=True, slots=True)
class Nominal:
    """The gauge's own size: the high end of its range."""

    kind: str = "nominal"


@dataclass(frozen=True, slots=True)
class OneMember:
    """The size of the member with this label: the GO end of a plug."""

    label: str
    kind: str = "member"


@dataclass(frozen=True, slots=True)
class EveryMember:
    """The size of every member that was not withdrawn: a set of pins, of blocks, of feelers."""

    kind: str = "members"


@dataclass(frozen=True, slots=True)
class NoLength:
    """No length at all: the flatness of a face, an attribute of the whole gauge."""

    kind: str = "none"


Lengths = (
    FixedList | FromLow | Spread | Segments | Shares | InWindow | Nominal | OneMember | EveryMember | NoLength
)
