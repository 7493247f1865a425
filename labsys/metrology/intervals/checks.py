"""Outcomes as the likelihood takes them: what each check says about the age at which the item went out.

Lives here: the renewal policies, the time axis each makes, grouped outcomes. May not live here: models.
The moment of going out is never seen, only in or out at a check: the data are censored to intervals.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from labsys.errors import LabError
from labsys.metrology.intervals.records import DataCount, LeftOut, Record, reason_to_leave_out


class Renewal(StrEnum):
    """When an item returns to a known state, which decides from when its age counts."""

    ALWAYS = "renew always"
    IF_FAILED = "renew if failed"
    AS_NEEDED = "renew as needed"


class ChecksUnusable(LabError, ValueError):
    """Ages or counts that can't belong to checks."""

    code = "checks-unusable"
    sentence = (
        "Expected one or more checks with 0 ≤ start < age, finite, and whole counts of at least one, found {found}. "
        "Correct the outcomes."
    )


class RenewalContradicted(LabError, ValueError):
    """A record that was renewed, or not, against the policy it is to be read under."""

    code = "renewal-contradicted"
    sentence = (
        "Expected record {index} of item “{item}” to follow “{policy}”, found {found}. Choose “renew as needed” and "
        "say for every record whether the item was adjusted."
    )


@dataclass(frozen=True, slots=True)
class Check:
    """Items of one age at one check, all known in tolerance at age ``start`` (0: not checked before): how many were in
    and how many out at ``age`` (months since the last renewal).
    """

    start: float
    age: float
    in_tolerance: int
    out: int

    def __post_init__(self) -> None:
        """Refuse what can't be a check."""
        counts_hold = self.in_tolerance >= 0 and self.out >= 0 and self.in_tolerance + self.out >= 1
        if not (math.isfinite(self.age) and 0 <= self.start < self.age and counts_hold):
            raise ChecksUnusable(
                found=f"{self.in_tolerance} in and {self.out} out, {self.start} to {self.age}"
            )

    @property
    def n(self) -> int:
        """Give the number of records."""
        return self.in_tolerance + self.out


@dataclass(frozen=True, slots=True)
class Checks:
    """All checks under one policy, ordered by age, with the count of what was used and what was left out."""

    each: tuple[Check, ...]
    data: DataCount
    renewal: Renewal

    @property
    def longest(self) -> float:
        """Give the longest age at which anything was seen."""
        return max(one.age for one in self.each)

    @property
    def longest_elapsed(self) -> float:
        """Give the longest time between two checks of one item."""
        return max(one.age - one.start for one in self.each)


def grouped(ages: Sequence[float], n: Sequence[int], in_tolerance: Sequence[int]) -> Checks:
    """Take counts by age since a renewal at every calibration: ``in_tolerance`` of ``n``; raises ChecksUnusable."""
    if not len(ages) == len(n) == len(in_tolerance) > 0:
        raise ChecksUnusable(found=f"{len(ages)} ages, {len(n)} and {len(in_tolerance)} counts")
    each = [Check(0.0, age, x, of - x) for age, of, x in zip(ages, n, in_tolerance, strict=True)]
    data = DataCount(sum(n), sum(in_tolerance), {})
    return Checks(tuple(sorted(each, key=lambda one: one.age)), data, Renewal.ALWAYS)


def from_records(records: Sequence[Record], renewal: Renewal) -> Checks | None:
    """Put the records of each item, in the order of time, on the time axis of the policy; None where none is usable.

    Renew always: the age is the time since the calibration before. Renew if failed: since the item last was out. As
    needed: since the last adjustment. A record that is left out leaves the age running unless the item was renewed.
    Raises RenewalContradicted, OutcomeMissing.
    """
    axes: dict[str, _Axis] = {}
    found: Counter[tuple[float, float, bool]] = Counter()
    reasons: Counter[str] = Counter()
    for index, record in enumerate(records):
        axis = axes.setdefault(record.item, _Axis())
        seen = axis.take(record, index, renewal)
        if isinstance(seen, LeftOut):
            reasons[seen.value] += 1
        else:
            found[seen] += 1
    if not found:
        return None
    each: dict[tuple[float, float], Check] = {}
    for start, age in sorted({key[:2] for key in found}, key=lambda span: (span[1], span[0])):
        each[start, age] = Check(start, age, found[start, age, True], found[start, age, False])
    in_tolerance = sum(one.in_tolerance for one in each.values())
    data = DataCount(found.total(), in_tolerance, dict(reasons))
    return Checks(tuple(each.values()), data, renewal)


class _Axis:
    """The running age of one item, the age at which it was last known in, whether it runs on known to be out."""

    def __init__(self) -> None:
        self.age, self.known_in, self.is_failed = 0.0, 0.0, False

    def take(self, record: Record, index: int, renewal: Renewal) -> tuple[float, float, bool] | LeftOut:
        self.age += record.elapsed_months
        reason = reason_to_leave_out(record, index)
        if reason is None and self.is_failed:
            reason = LeftOut.FAILED_BEFORE
        seen = (self.known_in, self.age, bool(record.in_tolerance))
        self._pass_on(record, renewed=_renewed(record, index, renewal), counts=reason is None)
        return seen if reason is None else reason

    def _pass_on(self, record: Record, *, renewed: bool, counts: bool) -> None:
        if renewed:
            self.age, self.known_in, self.is_failed = 0.0, 0.0, False
        elif counts and record.in_tolerance:
            self.known_in = self.age
        elif counts:
            self.is_failed = True


def _renewed(record: Record, index: int, renewal: Renewal) -> bool:
    """Say whether the item began anew at this record; the policy answers where the record doesn't."""
    if record.left_out is LeftOut.FIRST_EVER:
        return True
    said, by_policy = record.was_renewed, _by_policy(record, renewal)
    if record.left_out is None and None not in (said, by_policy) and said != by_policy:
        words = "an adjustment" if said else "no adjustment"
        raise RenewalContradicted(index=index, item=record.item, policy=renewal, found=words)
    if said is not None:
        return said
    if by_policy is None:
        raise RenewalContradicted(index=index, item=record.item, policy=renewal, found="neither yes nor no")
    return by_policy


def _by_policy(record: Record, renewal: Renewal) -> bool | None:
    if renewal is Renewal.AS_NEEDED:
        return None
    if renewal is Renewal.ALWAYS or record.left_out is LeftOut.DAMAGED:
        return True
    return record.in_tolerance is False
