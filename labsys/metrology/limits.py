"""Limits of a result: what an error may at most be, on one side or both.

Lives here: the pair of limits, distance to them, whether an error is within. May not live here: decision rules
(decision.py).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal, localcontext

from labsys.errors import LabError
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.exact import EXACT
from labsys.metrology.units import Unit


class LimitMissing(LabError, ValueError):
    """A verdict, margin or width was asked for without a limit."""

    code = "limit-missing"
    sentence = (
        "Expected a lower or an upper limit, found neither. Enter the limits with their source, or report the"
        " value alone."
    )


class LimitsCrossed(LabError, ValueError):
    """The lower limit lies above the upper one."""

    code = "limits-crossed"
    sentence = (
        "Expected the lower limit below the upper one, found {lower}{gap}{unit} and {upper}{gap}{unit}. "
        "Correct the limits."
    )


@dataclass(frozen=True, slots=True)
class Limits:
    """Lower and upper limit in mm; None where there's none on that side. A value on a limit is inside.

    ``unit`` is what refusals and notes name, the base unit of what is measured: limits of an angle are in arc seconds.
    ``floor`` is the least value there can be (zero for a span, a roundness): it counts as an end of the width where
    there is no lower limit, and refuses nothing.
    """

    lower: Decimal | None
    upper: Decimal | None
    floor: Decimal | None = None
    unit: Unit = field(default=Unit.MM, kw_only=True)

    def __post_init__(self) -> None:
        """Refuse limits that nothing could lie between."""
        lower, upper = self.in_picometres()
        if lower is not None and upper is not None and lower > upper:
            raise LimitsCrossed(lower=self.lower, upper=self.upper, gap=self.unit.gap, unit=self.unit)

    @property
    def are_two_sided(self) -> bool:
        """Say whether both sides are limited."""
        return self.lower is not None and self.upper is not None

    @property
    def width_mm(self) -> Decimal | None:
        """Give upper minus lower (or minus the floor) in mm, None where one of them is missing."""
        low = self.floor if self.lower is None else self.lower
        if low is None or self.upper is None:
            return None
        with localcontext(EXACT):
            return self.upper - low

    def in_picometres(self) -> tuple[int | None, int | None]:
        """Give both limits as whole picometres, the integers that verdicts compare."""
        return (
            None if self.lower is None else to_picometres(self.lower),
            None if self.upper is None else to_picometres(self.upper),
        )

    def margin(self, error_mm: Decimal) -> Decimal:
        """Give the distance in mm from ``error_mm`` to the nearest limit, minus outside; raises LimitMissing."""
        error = to_picometres(error_mm)
        lower, upper = self.in_picometres()
        distances = [] if lower is None else [error - lower]
        if upper is not None:
            distances.append(upper - error)
        if not distances:
            raise LimitMissing()
        return from_picometres(min(distances))


def within_limits(error_mm: Decimal, limits: Limits) -> bool:
    """Say whether ``error_mm`` lies within the unguarded limits (as-found outcomes); raises LimitMissing."""
    return limits.margin(error_mm) >= 0
