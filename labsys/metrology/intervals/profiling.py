"""Limits of an interval by the profile of the likelihood, through each model solved for its interval.

Lives here: the profile and its ends. May not live here: fits, decisions.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from labsys.metrology.intervals.checks import Checks
from labsys.metrology.intervals.fitting import Fit, interval_at, refuse_low_target
from labsys.metrology.intervals.likelihood import Likelihood
from labsys.metrology.intervals.maximising import maximise
from labsys.metrology.intervals.models import Model
from labsys.metrology.intervals.responses import refuse_unless_reliability

WIDEN = 1.3
"""Factor by which an end is sought outward from the estimate."""

FARTHEST_END = 1e4
"""An end beyond this many times the longest age counts as infinite, one below the inverse of it as zero."""


@dataclass(frozen=True, slots=True)
class IntervalLimits:
    """The interval at a target with its two-sided profile limits (months) at a confidence."""

    target: float
    months: float
    low: float
    high: float
    confidence: float


def profile(checks: Checks, model: Model, target: float) -> Callable[[float], float]:
    """Make the profile of the interval: I to the greatest ln L of all parameters for which R(I) = ``target``.

    Raises TargetTooLow; what it makes raises NotConverged.
    """
    refuse_low_target(target)
    likelihood = Likelihood(checks, model)

    def at(months: float) -> float:
        return maximise(
            lambda free: likelihood(model.pinned(months, target, free)), len(model.parameters) - 1
        ).value

    return at


def profile_limits(checks: Checks, found: Fit, target: float, *, confidence: float = 0.95) -> IntervalLimits:
    """Give the intervals at which 2·(ln L_max − ln L) = χ²(C; 1), either side of the estimate.

    An end that is never reached is 0 or infinite. Where the fit starts below the target (its interval is 0) the profile
    has no estimate to start from, and the ends are 0 and infinite. Raises TargetTooLow, NotConverged.
    """
    from scipy.special import chdtri

    refuse_unless_reliability(confidence)
    longest = checks.longest
    months = interval_at(found, target, longest)
    if months == 0 or math.isinf(months):
        return IntervalLimits(target, months, 0.0, math.inf, confidence)
    at = profile(checks, found.model, target)
    allowed = found.log_likelihood - float(chdtri(1, 1 - confidence)) / 2

    def excess(log_months: float) -> float:
        return at(math.exp(log_months)) - allowed

    low = _end(excess, months, 1 / WIDEN, longest / FARTHEST_END)
    high = _end(excess, months, WIDEN, longest * FARTHEST_END)
    return IntervalLimits(target, months, low, high, confidence)


def parameter_limits(found: Fit, limits: IntervalLimits) -> tuple[float, float] | None:
    """Give the limits of a model's only parameter that belong to those of its interval; None for several parameters.

    One parameter and the interval determine each other, so their profiles have the same ends.
    """
    import numpy as np

    if len(found.parameters) > 1:
        return None
    nothing = np.empty((0, 1))
    ends = [
        0.0
        if math.isinf(end)
        else math.inf
        if end == 0
        else float(found.model.pinned(end, limits.target, nothing)[0, 0])
        for end in (limits.high, limits.low)
    ]
    return ends[0], ends[1]


def _end(excess: Callable[[float], float], months: float, factor: float, farthest: float) -> float:
    from scipy.optimize import brentq

    inside, outside = months, months * factor
    while excess(math.log(outside)) > 0:
        inside, outside = outside, outside * factor
        if (outside > farthest) if factor > 1 else (outside < farthest):
            return math.inf if factor > 1 else 0.0
    return math.exp(float(brentq(excess, math.log(inside), math.log(outside), xtol=1e-9)))
