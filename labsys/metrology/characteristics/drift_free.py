"""Differences of gauge and reference read in turn, so that a steady drift of the comparator falls out.

Lives here: orders of reading (R the reference, G the gauge), the difference of one round, the mean of several. May not
live here: which series reads so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction

from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.exact import EXACT

PER_MM = 1e9
"""Picometres in a millimetre."""

ORDERS = ("RGR", "RGGR", "RGRGR")
"""Orders in which the reference and the gauge are read; in each both have the same mean time."""


@dataclass(frozen=True, slots=True)
class Rounds:
    """The differences of complete rounds (mm), their mean, and the standard deviation of one round (None for one)."""

    differences_mm: tuple[Decimal, ...]
    mean_mm: Decimal
    s_mm: float | None


def rounds_of(readings_mm: Sequence[Decimal], order: str) -> Rounds | None:
    """Take readings in the order they were made as rounds of ``order``; None before the first round is complete.

    Each round's difference is the mean of the gauge's readings less that of the reference's, exact until it is rounded
    to picometres. s is the sample standard deviation over rounds (n − 1).
    """
    whole = len(readings_mm) // len(order)
    rounds = [readings_mm[n * len(order) : (n + 1) * len(order)] for n in range(whole)]
    if not rounds:
        return None
    found = [_difference(one, order) for one in rounds]
    mean = sum(found, Fraction(0)) / len(found)
    squares = sum((one - mean) ** 2 for one in found)
    s = None if len(found) == 1 else float(squares / (len(found) - 1)) ** 0.5 / PER_MM
    return Rounds(tuple(_mm(one) for one in found), _mm(mean), s)


def _difference(readings: Sequence[Decimal], order: str) -> Fraction:
    sums, counts = {"R": Fraction(0), "G": Fraction(0)}, {"R": 0, "G": 0}
    for reading, letter in zip(readings, order, strict=True):
        sums[letter] += to_picometres(reading)
        counts[letter] += 1
    return sums["G"] / counts["G"] - sums["R"] / counts["R"]


def _mm(picometres: Fraction) -> Decimal:
    with localcontext(EXACT):
        return from_picometres(round(picometres))
