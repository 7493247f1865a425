"""Staircase: the next interval from how much of the permitted error the last calibration found used up.

Lives here: the share of the limit used, the three steps. May not live here: statistics over several records.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext

from labsys.errors import LabError
from labsys.metrology.exact import EXACT, finite
from labsys.metrology.intervals.assigning import Bounds
from labsys.metrology.intervals.proposals import Finding, Proposal, propose
from labsys.metrology.intervals.records import DataCount
from labsys.metrology.limits import LimitMissing, Limits

SOURCES = (
    "ILAC-G24 / OIML D 10:2022, review method 1 (from memory)",
    "inner fraction 0.8 as its example (from memory), factors 1.25 and 0.5 common practice",
)


class NoRoomInLimits(LabError, ValueError):
    """Limits of which no share can be used up."""

    code = "no-room-in-limits"
    sentence = "Expected limits with some room around or beside zero, found {lower} and {upper} mm. Check the limits."


class StairsCrossed(LabError, ValueError):
    """Settings of the staircase that make no stairs."""

    code = "stairs-crossed"
    sentence = (
        "Expected 0 < inner fraction < 1, factor down in 0 to 1 and factor up of 1 or more, found {inner}, {down} and "
        "{up}. Correct the family's staircase."
    )


@dataclass(frozen=True, slots=True)
class Stairs:
    """Up to ``inner`` of the permitted error the interval grows by ``up``, beyond the whole it shrinks by ``down``."""

    inner: Decimal = Decimal("0.8")
    up: Decimal = Decimal("1.25")
    down: Decimal = Decimal("0.5")

    def __post_init__(self) -> None:
        """Refuse settings that make no stairs."""
        if not (0 < self.inner < 1 <= self.up and 0 < self.down <= 1):
            raise StairsCrossed(inner=self.inner, down=self.down, up=self.up)


@dataclass(frozen=True, slots=True)
class FoundError:
    """One as-found error (mm) with the limits it had then; ``U_mm`` is added to it where the variant asks for it."""

    error_mm: Decimal
    limits: Limits
    U_mm: Decimal = Decimal(0)


def share_used(found: FoundError) -> Decimal:
    """Give the share of the permitted error that is used up: 1 on a limit, more beyond.

    Two limits: distance from their middle, plus U, over half their width, which is (|e| + U)/L where they are
    symmetric. One limit T: (e + U)/T counted towards it, 0 on its far side of zero. Raises
    LimitMissing, NoRoomInLimits.
    """
    lower, upper = found.limits.lower, found.limits.upper
    with localcontext(EXACT):
        error, U = finite(found.error_mm), abs(finite(found.U_mm))
        if lower is not None and upper is not None:
            used, room = abs(error - (lower + upper) / 2) + U, (upper - lower) / 2
        elif upper is not None:
            used, room = error + U, upper
        elif lower is not None:
            used, room = U - error, -lower
        else:
            raise LimitMissing()
        if room <= 0:
            raise NoRoomInLimits(lower=lower, upper=upper)
        return max(Decimal(0), used / room)


def staircase(
    errors: Sequence[FoundError], assigned_months: int, *, stairs: Stairs, bounds: Bounds
) -> Proposal:
    """Propose I·up, I or I·down by the worst share used of the ``errors`` of one as-found calibration.

    Without any error the answer is to keep. A share exactly on the inner fraction or on the limit belongs below it.
    """
    if not errors:
        nothing = DataCount(0, 0, {})
        needs = "one calibration with as-found errors"
        return propose(
            Finding("staircase", None, None, nothing, SOURCES, needs=needs), assigned_months, bounds
        )
    worst = max(share_used(one) for one in errors)
    factor = stairs.up if worst <= stairs.inner else stairs.down if worst > 1 else Decimal(1)
    raw = float(assigned_months * factor)
    data = DataCount(1, int(worst <= 1), {})
    figures = {"share_used": float(worst), "factor": float(factor), "points": len(errors)}
    return propose(Finding("staircase", raw, raw, data, SOURCES, figures=figures), assigned_months, bounds)
