"""``drift``: how a value changes from as left to as found, and how long it holds a limit or an uncertainty.

Fields:
    elapsed: times from each as-left value to the as-found value after it, in one unit of time
    changes: as found minus as left, in one unit
    u: standard uncertainty of each change, which weights the fit (left out: all alike)
    u_new: the same of a further change, needed to predict with a weighted fit (left out)
    scatter: what spreads the changes, residual (then u and u_new count as ratios) or stated (residual)
    degree: highest power of time, 1 for a steady drift (1)
    as_left: the value now (0)
    lower, upper, or limit for both: what the value must hold
    reliability: wanted probability of holding it (0.95)
    u_start, u_required: standard uncertainty now (0) and the most it may become (left out: not asked for)
    at: times at which the drift is told (none)

Answers:
    rate, u_rate, s, nu, coefficients: the drift per unit of time, residual standard deviation, degrees of freedom
    longest: the longest time observed
    limits: time until the limits hold no more at the reliability, is_beyond_data
    uncertainty: the same for the uncertainty, or null
    at: for each time change, s_prediction, u (with u_start) and reliability
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from labsys.metrology.fits.drift import (
    Drift,
    Reach,
    fit_drift,
    predict_reach,
    predict_uncertainty_reach,
    reliability_at,
)
from labsys.metrology.fits.least_squares import Scatter
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.numbers import maybe

SOURCES = ("NASA RP-1342 (principle, from memory): drift through the origin, prediction by Student's t",)


@dataclass(frozen=True, slots=True)
class _Held:
    """What the value must hold from now on."""

    as_left: float
    lower: float | None
    upper: float | None
    reliability: float
    u_start: float
    u_required: float | None
    u_new: float | None

    @property
    def has_limits(self) -> bool:
        return self.lower is not None or self.upper is not None

    @property
    def between(self) -> dict[str, Any]:
        return {"as_left": self.as_left, "lower": self.lower, "upper": self.upper, "u_new": self.u_new}


def answer(fields: Fields) -> Answer:
    """Fit the drift and say how long it holds; raises QuestionUnreadable and what the fit refuses."""
    drift = fit_drift(
        fields.numbers("elapsed"),
        fields.numbers("changes"),
        degree=fields.count("degree", 1, at_least=1),
        u=fields.numbers("u") if fields.has("u") else None,
        scatter=fields.one_of("scatter", Scatter, Scatter.RESIDUAL),
    )
    held, at = _held(fields), fields.numbers("at", [])
    fields.finish()
    values = {**_drift(drift), **_reaches(drift, held), "at": [_at(drift, one, held) for one in at]}
    return Answer(values, (Step("least squares through the origin", drift.solution.coefficients),), SOURCES)


def _held(fields: Fields) -> _Held:
    limit = maybe(fields, "limit", above=0.0)
    lower, upper = maybe(fields, "lower"), maybe(fields, "upper")
    return _Held(
        as_left=fields.number("as_left", 0),
        lower=-limit if limit is not None and lower is None else lower,
        upper=limit if upper is None else upper,
        reliability=fields.probability("reliability", 0.95),
        u_start=fields.number("u_start", 0, at_least=0.0),
        u_required=maybe(fields, "u_required", above=0.0),
        u_new=maybe(fields, "u_new", above=0.0),
    )


def _reaches(drift: Drift, held: _Held) -> Mapping[str, object]:
    limits = predict_reach(drift, **held.between, reliability=held.reliability) if held.has_limits else None
    grown = (
        None
        if held.u_required is None
        else predict_uncertainty_reach(
            drift, u_start=held.u_start, u_required=held.u_required, u_new=held.u_new
        )
    )
    return {"limits": _reach(limits), "uncertainty": _reach(grown)}


def _drift(drift: Drift) -> Mapping[str, object]:
    return {
        "rate": drift.rate,
        "u_rate": math.sqrt(drift.solution.covariance[0][0]),
        "coefficients": drift.solution.coefficients,
        "s": drift.solution.s,
        "nu": drift.solution.nu,
        "longest": drift.longest,
    }


def _reach(reach: Reach | None) -> Mapping[str, object] | None:
    return None if reach is None else {"time": reach.time, "is_beyond_data": reach.is_beyond_data}


def _at(drift: Drift, time: float, held: _Held) -> Mapping[str, object]:
    s = drift.s_prediction(time, u_new=held.u_new)
    return {
        "time": time,
        "change": drift.change(time),
        "s_prediction": s,
        "u": math.hypot(held.u_start, s),
        "reliability": reliability_at(drift, time, **held.between) if held.has_limits else None,
    }
