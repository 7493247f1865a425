"""What starting limits depend on, what they are, and the refusal where none ship.

Lives here: the records and how a line is written. May not live here: tables, and which of them holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from labsys.errors import LabError
from labsys.metrology.exact import plain
from labsys.metrology.units import Unit, to_mm
from labsys.pages.figures import said_size


class NoStartingLimits(LabError, ValueError):
    """No limits ship for a gauge made like this."""

    code: ClassVar[str] = "no-starting-limits"
    sentence: ClassVar[str] = "No limits ship for {what}. Enter the maker's or the owner's."


@dataclass(frozen=True, slots=True, kw_only=True)
class AsMade:
    """What limits depend on: how a model is made.

    ``step`` is one step of its scale in ``unit`` ("mm" or "in"; "°" or "′"). The range in mm, of angles in arc seconds;
    a fixed gauge has its size as the high end, a surface plate its diagonal. ``grade`` names grade or class where there
    are several; ``tolerance_mm`` is the whole tolerance of a fixed gauge where it isn't a grade's, ``wear_mm`` how far
    past its tolerance a GO may wear. ``build`` tells constructions of one family apart.
    """

    range_high_mm: Decimal
    range_low_mm: Decimal = Decimal(0)
    functions: tuple[str, ...] = ()
    step: Decimal = Decimal("0.01")
    unit: str = "mm"
    grade: str = ""
    tolerance_mm: Decimal | None = None
    wear_mm: Decimal = Decimal(0)
    build: str = ""

    @property
    def step_mm(self) -> Decimal:
        """Give one step in mm."""
        return to_mm(self.step, Unit(self.unit))

    @property
    def words(self) -> str:
        """Say how it is made, for a refusal."""
        step = f"stepping {self.step}{Unit(self.unit).gap}{self.unit}"
        given = (step, self.build, f"grade {self.grade}" if self.grade else "")
        low, high = (said_size(end, self.unit) for end in (self.range_low_mm, self.range_high_mm))
        return ", ".join(part for part in (*given, f"from {low} to {high}") if part)


@dataclass(frozen=True, slots=True)
class StartingLimits:
    """Rows as limits travel (``function``, ``up_to_mm``, ``lower_mm``, ``upper_mm``), their source, never confirmed."""

    rows: tuple[dict[str, Any], ...]
    source: str
    confirmed: bool = False


def both_ways(function: str, up_to_mm: Decimal, limit_mm: Decimal) -> dict[str, Any]:
    """Write a line that limits an error to ± ``limit_mm``."""
    return between(function, up_to_mm, -limit_mm, limit_mm)


def at_most(function: str, up_to_mm: Decimal, limit_mm: Decimal) -> dict[str, Any]:
    """Write a line for what is never below nought: a span, a flatness."""
    return {"function": function, "up_to_mm": _text(up_to_mm), "lower_mm": None, "upper_mm": _text(limit_mm)}


def between(function: str, up_to_mm: Decimal, lower_mm: Decimal, upper_mm: Decimal) -> dict[str, Any]:
    """Write a line with a lower and an upper limit."""
    return {**at_most(function, up_to_mm, upper_mm), "lower_mm": _text(lower_mm)}


def _text(value: Decimal) -> str:
    # Nought has no sign: a limit of a gauge that may not wear reads 0, not -0.
    return format(plain(value) if value else Decimal(0), "f")
