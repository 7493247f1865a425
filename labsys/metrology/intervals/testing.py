"""Interval test: is the rate found in tolerance near the assigned interval compatible with the target?

Lives here: the window, the decision, the new interval; the simple exponential without a test. May not live here:
binomial statistics, reliability models over several ages.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labsys.metrology.intervals import closed
from labsys.metrology.intervals.assigning import EXTRAPOLATION, Bounds, Change
from labsys.metrology.intervals.binomial import (
    ReliabilityLimits,
    least_n,
    reliability_limits,
    substituted,
    two_sided_p,
)
from labsys.metrology.intervals.proposals import Estimate, Finding, Proposal, propose
from labsys.metrology.intervals.records import DataCount, LeftOut, Record, count, usable
from labsys.metrology.intervals.responses import refuse_unless_reliability

WINDOW = (0.8, 1.2)
"""Elapsed times counted, as multiples of the assigned interval (common practice, no source)."""

FEW = 5
SOURCES = (
    "NCSLI RP-1, method A3 (principle): exact binomial test, limits after Clopper and Pearson (1934)",
    *closed.SOURCES,
)


@dataclass(frozen=True, slots=True)
class Aim:
    """What is aimed at: reliability R* at the end of the interval, confidence of the limits, the formula's R0 and β."""

    target: float = 0.95
    confidence: float = 0.95
    start: float = 1.0
    shape: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a target or confidence that is none."""
        refuse_unless_reliability(self.target, self.confidence)


@dataclass(frozen=True, slots=True)
class TestOutcome:
    """The test alone: limits, exact two-sided p, what it decides, what the closed formula would give."""

    __test__ = False  # a name that a test runner would collect

    limits: ReliabilityLimits
    p_two_sided: float
    decision: Change
    raw_months: float


def within_window(
    records: Sequence[Record], assigned_months: int, window: tuple[float, float] = WINDOW
) -> DataCount:
    """Count the usable records whose elapsed time lies in ``window`` (multiples of the assigned interval)."""
    kept, left_out = usable(records)
    low, high = (share * assigned_months for share in window)
    # Twelve months are 365 or 366 days, so the edges are given a day.
    near = [one for one in kept if low - 0.04 <= one.elapsed_months <= high + 0.04]
    if len(near) < len(kept):
        left_out = {**left_out, LeftOut.OUTSIDE_WINDOW.value: len(kept) - len(near)}
    return count(near, left_out)


def interval_test(n: int, x: int, assigned_months: float, aim: Aim) -> TestOutcome:
    """Test ``x`` of ``n`` in tolerance against the target (NCSLI RP-1, method A3, principle).

    R* below the lower limit: may be lengthened; above the upper: must be shortened; between: not rejected, keep. The
    formula takes (x + 0.5)/(n + 1) where all or none are in tolerance. Raises CountsCrossed, StartTooLow.
    """
    limits = reliability_limits(n, x, confidence=aim.confidence)
    decision = (
        Change.LENGTHEN
        if aim.target < limits.low
        else Change.SHORTEN
        if aim.target > limits.high
        else Change.KEEP
    )
    raw = _raw(n, x, assigned_months, aim)
    return TestOutcome(limits, two_sided_p(n, x, aim.target), decision, raw)


def propose_by_test(
    data: DataCount, assigned_months: int, *, aim: Aim, bounds: Bounds, longest_months: float | None = None
) -> Proposal:
    """Propose an interval by the test; without records, or where the target isn't rejected, to keep.

    ``longest_months`` is the longest elapsed time ever observed, where it is known.
    """
    if data.used == 0:
        needs = f"{_without_failure(aim, 0)} within the window"
        return propose(
            Finding("interval test", None, None, data, SOURCES, needs=needs), assigned_months, bounds
        )
    found = interval_test(data.used, data.used - data.out, assigned_months, aim)
    keeps = found.decision is Change.KEEP
    finding = Finding(
        method="interval test",
        wanted_months=None if keeps else found.raw_months,
        raw_months=found.raw_months,
        data=data,
        sources=SOURCES,
        estimate=_estimate(found.limits),
        reach_months=None if longest_months is None else EXTRAPOLATION * longest_months,
        needs=_without_failure(aim, data.out) if keeps else "",
        notes=_notes(data, found),
        figures=_figures(found),
    )
    return propose(finding, assigned_months, bounds)


def propose_simple_exponential(
    data: DataCount, assigned_months: int, *, aim: Aim, bounds: Bounds, longest_months: float | None = None
) -> Proposal:
    """Propose the closed formula's interval without asking whether the target is rejected (NCSLI RP-1, method S1).

    With no records, or without both an in and an out among them, the answer is to keep.
    """
    method = "simple exponential" if aim.shape == 1 else "Weibull of known shape"
    if data.used == 0 or data.out in (0, data.used):
        needs = "at least one record in and one out of tolerance; until then the interval test"
        finding = Finding(method, None, None, data, closed.SOURCES, needs=needs)
        return propose(finding, assigned_months, bounds)
    found = interval_test(data.used, data.used - data.out, assigned_months, aim)
    finding = Finding(
        method,
        found.raw_months,
        found.raw_months,
        data,
        closed.SOURCES,
        estimate=_estimate(found.limits),
        reach_months=None if longest_months is None else EXTRAPOLATION * longest_months,
        notes=_notes(data, found),
        figures=_figures(found),
    )
    return propose(finding, assigned_months, bounds)


def _raw(n: int, x: int, months: float, aim: Aim) -> float:
    observed = substituted(n, x)
    return closed.interval_for(aim.target, months=months, observed=observed, start=aim.start, shape=aim.shape)


def _estimate(limits: ReliabilityLimits) -> Estimate:
    return Estimate(
        "reliability at the interval", limits.observed, limits.low, limits.high, limits.confidence
    )


def _figures(found: TestOutcome) -> Mapping[str, object]:
    return {"p_two_sided": found.p_two_sided, "decision": found.decision.value}


def _without_failure(aim: Aim, out: int) -> str:
    least = least_n(aim.target, confidence=aim.confidence, out=out)
    failures = "none of them" if out == 0 else f"not more than {out} of them"
    return f"{least} records, {failures} out of tolerance, to lengthen at a target of {aim.target:g}"


def _notes(data: DataCount, found: TestOutcome) -> tuple[str, ...]:
    notes = []
    if data.used < FEW:
        notes.append(f"only {data.used} records: the limits are very wide")
    if found.decision is Change.KEEP:
        notes.append("the target is not rejected, which doesn't prove it")
    if data.out in (0, data.used):
        notes.append("all alike: (x + 0.5)/(n + 1) stands for the observed rate in the formula only")
    return tuple(notes)
