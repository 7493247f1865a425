"""Counts of in and out of tolerance against a reliability: exact limits, exact test, how many records it takes.

Lives here: binomial statistics, one item against its group. May not live here: which records are counted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from labsys.errors import LabError
from labsys.metrology.coverage import ProbabilityOutOfRange
from labsys.metrology.intervals.responses import refuse_unless_reliability

FLAG_BELOW = 0.01
"""Tail probability at which an item is said to differ from its group (common practice, no source)."""

MOST_RECORDS = 10_000_000
"""Beyond this many records no number is looked for."""


class CountsCrossed(LabError, ValueError):
    """Counts that can't be counts of one set of records."""

    code = "counts-crossed"
    sentence = (
        "Expected whole numbers with 0 ≤ in tolerance ≤ records and at least one record, found {x} of {n}. "
        "Count the records again."
    )


class TargetOutOfReach(LabError, ValueError):
    """No number of records that can be had would show a reliability above the target."""

    code = "target-out-of-reach"
    sentence = "Expected a target that {most} records can show, found {target} at confidence {confidence}. Aim lower."


@dataclass(frozen=True, slots=True)
class ReliabilityLimits:
    """Exact two-sided limits of a reliability, observed as x of n, at a confidence."""

    observed: float
    low: float
    high: float
    confidence: float


@dataclass(frozen=True, slots=True)
class ItemInGroup:
    """An item beside its group: tail probabilities of its count at the group's reliability, and what they say."""

    p_lower: float
    p_upper: float
    threshold: float

    @property
    def is_worse(self) -> bool:
        """Say whether the item fails more often than its group (a “dog”)."""
        return self.p_lower <= self.threshold

    @property
    def is_better(self) -> bool:
        """Say whether the item fails less often than its group (a “gem”)."""
        return self.p_upper <= self.threshold

    @property
    def advice(self) -> str:
        """Say what to do with the item."""
        if self.is_worse:
            return "an interval of its own, repair, limited use or removal"
        return "an interval of its own" if self.is_better else "stay with the group"


def reliability_limits(n: int, x: int, *, confidence: float = 0.95) -> ReliabilityLimits:
    """Give the exact (Clopper–Pearson) limits of R for ``x`` of ``n`` in tolerance.

    R_L = BetaInv(α/2; x, n − x + 1), 0 for x = 0; R_U = BetaInv(1 − α/2; x + 1, n − x), 1 for x = n; α = 1 − C
    (Clopper and Pearson, Biometrika 26, 1934). Raises CountsCrossed, ProbabilityOutOfRange.
    """
    from scipy.special import betaincinv

    _refuse_unless_counts(n, x)
    half = _tail(confidence)
    low = 0.0 if x == 0 else float(betaincinv(x, n - x + 1, half))
    high = 1.0 if x == n else float(betaincinv(x + 1, n - x, 1 - half))
    return ReliabilityLimits(x / n, low, high, confidence)


def at_most(x: int, n: int, reliability: float) -> float:
    """Give P(X ≤ x) of n trials at ``reliability``; raises CountsCrossed, ReliabilityOutOfRange."""
    from scipy.special import betainc

    _refuse_unless_counts(n, x)
    refuse_unless_reliability(reliability)
    return 1.0 if x == n else float(betainc(n - x, x + 1, 1 - reliability))


def at_least(x: int, n: int, reliability: float) -> float:
    """Give P(X ≥ x) of n trials at ``reliability``; raises CountsCrossed, ReliabilityOutOfRange."""
    from scipy.special import betainc

    _refuse_unless_counts(n, x)
    refuse_unless_reliability(reliability)
    return 1.0 if x == 0 else float(betainc(x, n - x + 1, reliability))


def two_sided_p(n: int, x: int, target: float) -> float:
    """Give min(1, 2·min(P(X ≤ x), P(X ≥ x))) at the ``target`` reliability (exact binomial test)."""
    return min(1.0, 2 * min(at_most(x, n, target), at_least(x, n, target)))


def least_n_exact(target: float, *, confidence: float = 0.95) -> float:
    """Give ln((1 − C)/2)/ln(R), the unrounded number of records without a failure that show more than R.

    Raises ReliabilityOutOfRange, ProbabilityOutOfRange.
    """
    refuse_unless_reliability(target)
    return math.log(_tail(confidence)) / math.log(target)


def least_n(target: float, *, confidence: float = 0.95, out: int = 0) -> int:
    """Give the least number of records, ``out`` of them out of tolerance, whose lower limit exceeds ``target``.

    Without failures the smallest whole number of at least ``least_n_exact``. Raises
    TargetOutOfReach.
    """
    if out == 0:
        return max(1, math.ceil(least_n_exact(target, confidence=confidence)))
    refuse_unless_reliability(target)
    half = _tail(confidence)
    low, high = out, 2 * out
    while at_least(high - out, high, target) > half:
        low, high = high, 2 * high
        if high > MOST_RECORDS:
            raise TargetOutOfReach(most=MOST_RECORDS, target=target, confidence=confidence)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if at_least(middle - out, middle, target) > half else (low, middle)
    return high


def substituted(n: int, x: int) -> float:
    """Give x/n, or (x + 0.5)/(n + 1) where all or none are in tolerance, so that a formula stays finite."""
    _refuse_unless_counts(n, x)
    return (x + 0.5) / (n + 1) if x in (0, n) else x / n


def item_in_group(n: int, x: int, group_reliability: float, *, threshold: float = FLAG_BELOW) -> ItemInGroup:
    """Compare ``x`` of ``n`` of one item with its group's reliability (homogeneity).

    P(X ≤ x) at most ``threshold`` flags a bad item, P(X ≥ x) a good one; of many items that many are flagged by chance.
    Take the group without the item. Raises CountsCrossed, ReliabilityOutOfRange, ProbabilityOutOfRange.
    """
    if not 0 < threshold < 1:
        raise ProbabilityOutOfRange(found=threshold)
    return ItemInGroup(at_most(x, n, group_reliability), at_least(x, n, group_reliability), threshold)


def _tail(confidence: float) -> float:
    if not 0 < confidence < 1:
        raise ProbabilityOutOfRange(found=confidence)
    return (1 - confidence) / 2


def _refuse_unless_counts(n: int, x: int) -> None:
    if not (isinstance(n, int) and isinstance(x, int) and n >= 1 and 0 <= x <= n):
        raise CountsCrossed(x=x, n=n)
