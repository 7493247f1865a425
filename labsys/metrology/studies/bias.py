"""Bias: how far the mean of repeats on one reference lies from it, and whether that can be chance.

Lives here: the t test of one mean and its interval. May not live here: several references (linearity.py), capability
(type1.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.metrology.coverage import student_factor
from labsys.metrology.studies.cube import NoSpreadSeen, checked, row
from labsys.metrology.studies.intervals import check_confidence


@dataclass(frozen=True, slots=True)
class TTest:
    """A value against zero: its standard error, t, degrees of freedom, two-sided p, and the interval around it."""

    value: float
    standard_error: float
    t: float
    df: int
    p: float
    low: float
    high: float
    confidence: float

    @property
    def is_seen(self) -> bool:
        """Say whether zero lies outside the interval: the value is more than chance."""
        return not self.low <= 0 <= self.high


@dataclass(frozen=True, slots=True)
class BiasStudy:
    """Mean and standard deviation ``s`` of ``count`` readings, and their bias against ``reference``, in one unit."""

    reference: float
    count: int
    mean: float
    s: float
    bias: TTest


def t_test(value: float, standard_error: float, df: int, confidence: float) -> TTest:
    """Test ``value`` against zero by Student's t with ``df`` degrees of freedom; ``standard_error`` is above zero."""
    from scipy.special import stdtr

    check_confidence(confidence)
    t = value / standard_error
    reach = student_factor(confidence, df) * standard_error
    return TTest(
        value, standard_error, t, df, float(2 * stdtr(df, -abs(t))), value - reach, value + reach, confidence
    )


def bias_study(readings: Sequence[float], reference: float, *, confidence: float = 0.95) -> BiasStudy:
    """Compare two or more readings of one reference with its value (one-sample t test).

    Source: AIAG MSA, 4th edition, chapter III section B, independent sample method (from memory). The uncertainty of
    the reference isn't in the interval. Raises StudyTooSmall, NoSpreadSeen, NotANumber, ReadingOutOfReach,
    BadStudySetting.
    """
    values = row(readings, least=2)
    if values.min() == values.max():
        raise NoSpreadSeen(where="between the readings of one reference")
    offset = checked(reference)
    errors = values - offset
    bias = math.fsum(errors) / len(errors)
    s = math.sqrt(math.fsum((errors - bias) ** 2) / (len(errors) - 1))
    return BiasStudy(
        reference=offset,
        count=len(errors),
        mean=math.fsum(values) / len(values),
        s=s,
        bias=t_test(bias, s / math.sqrt(len(errors)), len(errors) - 1, confidence),
    )
