"""What a method finds, and the proposal with its evidence that it ends in.

Lives here: finding, estimate, proposal. May not live here: any method, the rules of assignment (assigning.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from labsys.metrology.intervals.assigning import Assigned, Bounds, Change, assign
from labsys.metrology.intervals.records import DataCount

SOURCE: Final = "assignment rules: common practice, no standard fixes the figures"


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure with its limits at a confidence, by the name of what it estimates."""

    quantity: str
    value: float
    low: float
    high: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Finding:
    """What a method says, before the assignment rules.

    ``raw_months`` is what its formula gives, None where it gives nothing; ``wanted_months`` what it asks for, None to
    keep; ``reach_months`` how far the observations bear a longer one. ``needs`` says how much data a change would need,
    empty where the data suffice.
    """

    method: str
    wanted_months: float | None
    raw_months: float | None
    data: DataCount
    sources: tuple[str, ...]
    estimate: Estimate | None = None
    reach_months: float | None = None
    needs: str = ""
    notes: tuple[str, ...] = ()
    figures: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Proposal:
    """A proposed interval with its evidence; a person accepts it with a reason."""

    finding: Finding
    assigned_months: int
    outcome: Assigned

    @property
    def takes_effect(self) -> str:
        """Say from when the change holds: shorter at once, longer from the next calibration."""
        return {
            Change.SHORTEN: "now: due dates are worked out again, what becomes overdue is listed for a decision",
            Change.LENGTHEN: "from the next calibration on",
            Change.KEEP: "nothing changes",
        }[self.outcome.change]


def propose(finding: Finding, assigned_months: int, bounds: Bounds) -> Proposal:
    """Put a method's finding through the assignment rules; raises IntervalOutOfRange."""
    wanted = float(assigned_months) if finding.wanted_months is None else finding.wanted_months
    outcome = assign(assigned_months, wanted, bounds, reach_months=finding.reach_months)
    return Proposal(finding, assigned_months, outcome)
