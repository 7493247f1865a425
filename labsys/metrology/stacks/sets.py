"""Usual sets of gauge blocks by their series of sizes.

Lives here: what lies in a case as sold. May not live here: the blocks that a laboratory has, with identity and values.

The compositions are common practice, no source; the 112-piece one is also printed in public tables. A laboratory goes
by the lid of its own case: sets of one piece number differ, and wear blocks are counted or not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from labsys.errors import LabError
from labsys.metrology.stacks.blocks import Block
from labsys.metrology.units import Unit


class NoSuchSet(LabError, ValueError):
    """A set of blocks that isn't known here."""

    code = "no-such-set"
    sentence = "Expected one of {known}, found “{found}”. List the blocks one by one instead."


@dataclass(frozen=True, slots=True)
class Series:
    """``count`` sizes from ``first`` on, ``step`` apart."""

    first: str
    step: str
    count: int

    def sizes(self) -> list[Decimal]:
        """Give the sizes."""
        return [Decimal(self.first) + Decimal(self.step) * place for place in range(self.count)]


_THOUSANDTHS: Final = Series("1.001", "0.001", 9)
_HUNDREDTHS: Final = Series("1.01", "0.01", 49)
_SHORT: Final = Series("1.01", "0.01", 9)

SETS: Final[Mapping[str, tuple[Unit, tuple[Series, ...]]]] = {
    "47 mm": (
        Unit.MM,
        (
            Series("1.005", "0", 1),
            _SHORT,
            Series("1.1", "0.1", 9),
            Series("1", "1", 24),
            Series("25", "25", 4),
        ),
    ),
    "88 mm": (
        Unit.MM,
        (
            Series("1.0005", "0", 1),
            _THOUSANDTHS,
            _HUNDREDTHS,
            Series("0.5", "0.5", 19),
            Series("10", "10", 10),
        ),
    ),
    "112 mm": (
        Unit.MM,
        (
            Series("1.0005", "0", 1),
            _THOUSANDTHS,
            _HUNDREDTHS,
            Series("0.5", "0.5", 49),
            Series("25", "25", 4),
        ),
    ),
    "81 in": (
        Unit.IN,
        (
            Series("0.1001", "0.0001", 9),
            Series("0.101", "0.001", 49),
            Series("0.05", "0.05", 19),
            Series("1", "1", 4),
        ),
    ),
}
"""Unit and series by the set's name."""


def blocks_of_set(name: str) -> tuple[Block, ...]:
    """Give the blocks of a usual set at nominal size, identified by it; raises NoSuchSet."""
    if name not in SETS:
        raise NoSuchSet(known=", ".join(SETS), found=name)
    unit, series = SETS[name]
    sizes = [size for one in series for size in one.sizes()]
    return tuple(
        Block(identity=f"{size} {unit.value}", nominal=size, unit=unit, certificate=f"set {name}")
        for size in sizes
    )
