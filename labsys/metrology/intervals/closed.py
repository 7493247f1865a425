"""Closed formulas for one interval: exponential, with a start below 1, Weibull of known shape; average over a period.

Lives here: formulas that take a reliability seen at one age. May not live here: fits over several ages.
"""

from __future__ import annotations

import math

from labsys.errors import LabError
from labsys.metrology.intervals.assigning import IntervalOutOfRange
from labsys.metrology.intervals.responses import refuse_unless_reliability

SOURCES = ("NASA RP-1342, eq. D.6: I·ln(R*/R0)/ln(R/R0); to the power 1/β for a Weibull law of known shape",)


class StartTooLow(LabError, ValueError):
    """A reliability at time zero that the target or the observation exceeds."""

    code = "start-reliability-too-low"
    sentence = (
        "Expected a reliability at time zero above the observed and the wanted one and at most 1, found {found}. "
        "Items that leave the laboratory out of tolerance need another remedy than an interval."
    )


class ShapeOutOfRange(LabError, ValueError):
    """A Weibull shape that is none."""

    code = "weibull-shape-out-of-range"
    sentence = "Expected a finite Weibull shape above 0, found {found}. Wear-out has a shape above 1."


def interval_for(
    target: float, *, months: float, observed: float, start: float = 1.0, shape: float = 1.0
) -> float:
    """Give I·(ln(R*/R0)/ln(R/R0))^(1/β) in months: the time at which reliability has fallen to the ``target`` R*.

    ``observed`` is R at ``months`` I, ``start`` R0 at time zero, ``shape`` β (1: exponential). Raises
    IntervalOutOfRange, ReliabilityOutOfRange, StartTooLow, ShapeOutOfRange.
    """
    refuse_unless_reliability(target, observed)
    if not (math.isfinite(months) and months > 0):
        raise IntervalOutOfRange(found=months)
    if not max(target, observed) < start <= 1:
        raise StartTooLow(found=start)
    if not (math.isfinite(shape) and shape > 0):
        raise ShapeOutOfRange(found=shape)
    ratio = math.log(target / start) / math.log(observed / start)
    return float(months * math.exp(math.log(ratio) / shape))


def hazard_over_period(end_reliability: float) -> float:
    """Give λ·I = −ln R of an exponential law whose period ends at R; raises ReliabilityOutOfRange."""
    refuse_unless_reliability(end_reliability)
    return -math.log(end_reliability)


def average_over_period(end_reliability: float) -> float:
    """Give the reliability averaged over a period that ends at R, exponential: (1 − R)/(−ln R).

    Raises ReliabilityOutOfRange.
    """
    hazard = hazard_over_period(end_reliability)
    return -math.expm1(-hazard) / hazard
