"""Which two of several values lie furthest apart: all of them, within a stretch of length, within groups, across two.

Lives here: exact differences of decimals in mm. May not live here: what the values mean.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from labsys.errors import LabError
from labsys.metrology.error import from_picometres, to_picometres


class NothingToCompare(LabError, ValueError):
    """A difference was asked for, and no two values can be compared."""

    code = "nothing-to-compare"
    sentence = "Expected at least two values to compare, found none. Take the points."


@dataclass(frozen=True, slots=True)
class Between:
    """A difference (mm, zero or more) and the places, in the order given, of the two values that it lies between."""

    difference_mm: Decimal
    high: int
    low: int


def widest(values_mm: Sequence[Decimal], groups: Iterable[Sequence[int]] | None = None) -> Between:
    """Give the largest difference of two values of one group; without ``groups`` all are one.

    Each group holds places in ``values_mm``; of equals the first is the high one, the last the low one. Raises
    NothingToCompare where no group has two.
    """
    whole = [to_picometres(value) for value in values_mm]
    usable = [list(group) for group in ([range(len(whole))] if groups is None else groups)]
    return _largest(
        _between(
            whole,
            max(group, key=lambda place: whole[place]),
            # The last of equals, so that readings that all agree still lie between two of them.
            min(reversed(group), key=lambda place: whole[place]),
        )
        for group in usable
        if len(group) > 1
    )


def widest_within(values_mm: Sequence[Decimal], lengths_mm: Sequence[Decimal], within_mm: Decimal) -> Between:
    """Give the largest difference of two values whose lengths lie at most ``within_mm`` apart.

    A stretch that begins at each length in turn is looked through, so that no two that are near enough are missed.
    Raises NothingToCompare.
    """
    ends = [(length, length + within_mm) for length in sorted(set(lengths_mm))]
    groups = [[n for n, length in enumerate(lengths_mm) if low <= length <= high] for low, high in ends]
    return widest(values_mm, groups)


def widest_apart(
    values_mm: Sequence[Decimal], pairs: Iterable[tuple[Sequence[int], Sequence[int]]]
) -> Between:
    """Give the largest difference of a value of one side to a value of the other, over all ``pairs`` of sides.

    Raises NothingToCompare where no pair has a value on both sides.
    """
    whole = [to_picometres(value) for value in values_mm]
    return _largest(
        _between(whole, one, other) if whole[one] >= whole[other] else _between(whole, other, one)
        for ones, others in pairs
        for one in ones
        for other in others
    )


def _between(whole: Sequence[int], high: int, low: int) -> Between:
    return Between(from_picometres(whole[high] - whole[low]), high, low)


def _largest(found: Iterable[Between]) -> Between:
    largest = max(found, key=lambda one: one.difference_mm, default=None)
    if largest is None:
        raise NothingToCompare()
    return largest
