"""Reactive methods: each outcome of one item moves its interval. For display and as a stop-gap; slow and unstable.

Lives here: simple response, its equilibrium, incremental response. May not live here: the staircase, statistics.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from labsys.errors import LabError
from labsys.metrology.intervals.assigning import Bounds, IntervalOutOfRange
from labsys.metrology.intervals.proposals import Finding, Proposal, propose
from labsys.metrology.intervals.records import DataCount

SIMPLE_SOURCES = ("NCSLI RP-1, method A1 (from memory): equilibrium at (1 + a)^R·(1 − b)^(1 − R) = 1",)
INCREMENTAL_SOURCES = ("NCSLI RP-1, method A2 (formula from memory)",)
REACTIVE_NOTE = "reacts to single outcomes of one item: slow and unstable, for display and as a stop-gap"


class ReliabilityOutOfRange(LabError, ValueError):
    """A probability of being in tolerance that can't be aimed at or start from."""

    code = "reliability-out-of-range"
    sentence = "Expected a reliability above 0 and below 1, found {found}. 0.95 is usual."


class StepOutOfRange(LabError, ValueError):
    """A step of a response that doesn't lead anywhere."""

    code = "response-step-out-of-range"
    sentence = "Expected {name} above 0{below}, found {found}. Correct the step of the response."


@dataclass(frozen=True, slots=True)
class Equilibrium:
    """The step down b that balances the step up a at a target reliability, after both forms.

    The linear form can give b of 1 or more, which would leave no interval at all: ``is_linear_usable`` says so.
    """

    b_log: float
    b_linear: float

    @property
    def is_linear_usable(self) -> bool:
        """Say whether the linear form leaves an interval."""
        return self.b_linear < 1


def refuse_unless_reliability(*values: float) -> None:
    """Raise ReliabilityOutOfRange unless every value lies above 0 and below 1."""
    for value in values:
        if not 0 < value < 1:
            raise ReliabilityOutOfRange(found=value)


def equilibrium(target: float, a: float) -> Equilibrium:
    """Give b for a step up ``a`` > 0 at the ``target`` reliability R: 1 − (1 + a)^(−R/(1 − R)), and linear a·R/(1 − R).

    Raises ReliabilityOutOfRange, StepOutOfRange.
    """
    refuse_unless_reliability(target)
    _refuse_unless_step("a", a, math.inf)
    odds = target / (1 - target)
    return Equilibrium(b_log=-math.expm1(-odds * math.log1p(a)), b_linear=a * odds)


def simple_response(
    start_months: float, outcomes: Sequence[bool], *, a: float, b: float
) -> tuple[float, ...]:
    """Give the interval before and after every outcome: I·(1 + a) when in tolerance, I·(1 − b) when out.

    Raises IntervalOutOfRange, StepOutOfRange.
    """
    _refuse_unless_start(start_months)
    _refuse_unless_step("a", a, math.inf)
    _refuse_unless_step("b", b, 1.0)
    intervals = [start_months]
    for is_in in outcomes:
        intervals.append(intervals[-1] * (1 + a if is_in else 1 - b))
    return tuple(intervals)


@dataclass(frozen=True, slots=True)
class Increment:
    """The size of step Δ in use and the interval it led to."""

    delta: float
    months: float


def incremental_response(
    start_months: float, outcomes: Sequence[bool], *, target: float, first: bool = True, delta: float = 1.0
) -> tuple[Increment, ...]:
    """Give step and interval after every outcome: I·[1 + Δ·(1 − R)] when in tolerance, I·[1 − Δ·R] when out.

    Δ starts at ``delta`` (0 to 1) and halves whenever the outcome differs from the one before (``first`` before the
    first), so that the interval converges and then freezes. Raises IntervalOutOfRange, ReliabilityOutOfRange,
    StepOutOfRange.
    """
    _refuse_unless_start(start_months)
    refuse_unless_reliability(target)
    _refuse_unless_step("Δ", delta, math.nextafter(1.0, 2.0))
    steps: list[Increment] = []
    months, before = start_months, first
    for is_in in outcomes:
        delta = delta if is_in == before else delta / 2
        months *= 1 + delta * (1 - target) if is_in else 1 - delta * target
        before = is_in
        steps.append(Increment(delta, months))
    return tuple(steps)


class Response(StrEnum):
    """The two reactive methods, by the word they have in a file."""

    SIMPLE = "simple_response"
    INCREMENTAL = "incremental_response"


def propose_response(
    response: Response, assigned_months: int, outcomes: Sequence[bool], raw_months: float, bounds: Bounds
) -> Proposal:
    """Propose ``raw_months``, which the ``outcomes`` have led to from the assigned interval; without any, to keep."""
    sources = SIMPLE_SOURCES if response is Response.SIMPLE else INCREMENTAL_SOURCES
    data = DataCount(len(outcomes), sum(outcomes), {})
    needs = "" if outcomes else "one as-found outcome"
    wanted = raw_months if outcomes else None
    finding = Finding(response.value, wanted, wanted, data, sources, needs=needs, notes=(REACTIVE_NOTE,))
    return propose(finding, assigned_months, bounds)


def _refuse_unless_start(months: float) -> None:
    if not (math.isfinite(months) and months > 0):
        raise IntervalOutOfRange(found=months)


def _refuse_unless_step(name: str, value: float, below: float) -> None:
    if not 0 < value < below:
        raise StepOutOfRange(
            name=name, below="" if math.isinf(below) else f" and below {below:g}", found=value
        )
