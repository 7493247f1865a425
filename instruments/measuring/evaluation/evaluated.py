"""What readings say: the record of one result, of a point or of several together.

Lives here: the record, its stored form, which results can't be below nought. May not live here: how it is found.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from instruments.measuring.models import Point, Reading, Result
from labsys.metrology.decision import Decision
from labsys.metrology.inputs import PointInputs
from labsys.metrology.limits import Limits
from labsys.metrology.repeats import Repeats
from labsys.metrology.verdicts import Verdict
from labsys.metrology.views import Views

SIGNED = frozenset({Result.Kind.ERROR, Result.Kind.DEVIATION})
NON_NEGATIVE = frozenset(Result.Kind) - SIGNED
"""Kinds of result that lie at nought or above, so that a single upper limit has a width."""


def limits_with_floor(kind: str, limits: Limits) -> Limits:
    """Give the limits of a result of this kind, with nought as its floor where it can't be less."""
    return replace(limits, floor=Decimal(0)) if kind in NON_NEGATIVE else limits


@dataclass(frozen=True)
class Evaluated:
    """What the readings of one point say, or those of several together.

    ``kind`` is one of ``Result.Kind``, ``function`` the line of limits, ``name`` what several points have together.
    ``length_mm`` is the length measured at, ``held_mm`` what a reading is held against: ``error_mm`` is the reading
    judged less that, in mm. ``reading``: of several, that with the least margin. ``points`` are those that a common
    result comes of, ``between`` the two that it lies between; ``in_rounds``: it is the mean of rounds of reference and
    gauge, so that no single reading is an error. ``decision`` and ``verdict`` are None where no limit is agreed;
    ``views`` and ``inputs`` where nothing was measured but whether it fits.
    """

    point: Point | None
    kind: str
    function: str
    length_mm: Decimal
    held_mm: Decimal
    reading: Reading | None
    error_mm: Decimal
    repeats: Repeats | None
    limits: Limits
    views: Views | None
    inputs: PointInputs | None
    decision: Decision | None = None
    verdict: Verdict | None = None
    within_limits: bool | None = None
    name: str = ""
    points: tuple[Point, ...] = ()
    in_rounds: bool = False
    between: tuple[int, ...] = ()

    @property
    def is_common(self) -> bool:
        """Say whether several points have this result together."""
        return bool(self.points)

    @property
    def is_rejected(self) -> bool:
        """Say whether the readings of the point disagree by more than is allowed."""
        return self.repeats is not None and self.repeats.is_rejected

    def decision_json(self) -> dict[str, Any]:
        """Give every figure of the verdict, ready to store."""
        return {
            **self._judged(),
            "length_mm": self.length_mm,
            **({"held_mm": self.held_mm} if self.held_mm != self.length_mm else {}),
            **({} if self.repeats is None else {"spread_mm": self.repeats.spread_mm}),
            **({"between": list(self.between)} if self.between else {}),
        }

    def _judged(self) -> dict[str, Any]:
        if self.decision is None:
            return {"verdict": "" if self.verdict is None else str(self.verdict)}
        zone = self.decision.acceptance
        return {
            "verdict": str(self.decision.verdict),
            "acceptance_lower_mm": zone.lower,
            "acceptance_upper_mm": zone.upper,
            "margin_mm": self.decision.margin_mm,
            "ratio": self.decision.ratio,
            "conformance_probability": self.decision.conformance_probability,
            "U_used_mm": self.decision.U_used_mm,
            "view": str(self.decision.view),
            "note": self.decision.note,
        }
