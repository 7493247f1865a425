"""When a curve through values in time will reach a limit, by itself and at the edge of its prediction interval.

Lives here: the future of a fitted standard's value. May not live here: changes since an adjustment (drift.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from labsys.metrology.fits.curve import Curve
from labsys.metrology.fits.seeking import last_time, refuse_crossed


@dataclass(frozen=True, slots=True)
class Crossing:
    """The times up to which the curve (``mean_time``) and its prediction interval (``prediction_time``) stay inside.

    Infinite where they always do; ``last_seen``, the time of the last value, where they don't any more.
    """

    mean_time: float
    prediction_time: float
    last_seen: float


def predict_crossing(
    curve: Curve,
    *,
    lower: float | None,
    upper: float | None,
    probability: float,
    guard: float = 0.0,
    u_new: float | None = None,
) -> Crossing:
    """Follow ``curve`` from its last time on until a limit, drawn in by ``guard`` (such as U), is reached.

    ``probability`` is that of the two-sided prediction interval of one further value; ``u_new`` its u in a weighted
    fit. The prediction is the one to act on. Raises LimitsCrossed, ProbabilityOutOfRange, SeriesUnusable.
    """
    low = None if lower is None else lower + guard
    high = None if upper is None else upper - guard
    refuse_crossed(low, high)

    def stays(is_prediction: bool, elapsed: float) -> bool:
        found = curve.prediction(curve.highest + elapsed, probability=probability, u_new=u_new)
        reach = found.factor * found.u if is_prediction else 0.0
        return (low is None or found.middle - reach >= low) and (high is None or found.middle + reach <= high)

    span, begin = curve.highest - curve.lowest, curve.highest
    return Crossing(
        mean_time=begin + last_time(partial(stays, False), span),
        prediction_time=begin + last_time(partial(stays, True), span),
        last_seen=begin,
    )
