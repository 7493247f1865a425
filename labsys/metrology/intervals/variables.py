"""Variables method: the interval until the drift, with its prediction interval, brings the value to a limit.

Lives here: what the drift's prediction says about the interval. May not live here: the drift's fit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labsys.metrology.fits.drift import (
    Drift,
    Reach,
    fit_drift,
    predict_reach,
    predict_uncertainty_reach,
    reliability_at,
)
from labsys.metrology.intervals.assigning import Bounds
from labsys.metrology.intervals.proposals import Finding, Proposal, propose
from labsys.metrology.intervals.records import DataCount

METHOD = "variables"
SOURCES = (
    "NASA RP-1342 (principle): drift from as-left to as-found, prediction by Student's t",
    "no interval beyond the longest time observed",
)


@dataclass(frozen=True, slots=True)
class ValueAim:
    """What the value must hold: limits (None: none on that side) from ``as_left`` on, at a reliability; with
    ``u_required`` also a standard uncertainty, starting from ``u_start``. All in the unit of the changes.
    """

    as_left: float
    lower: float | None
    upper: float | None
    target: float = 0.95
    u_start: float = 0.0
    u_required: float | None = None


@dataclass(frozen=True, slots=True)
class Reaches:
    """The fitted drift, how long the limits hold, and how long the uncertainty does (None: not asked for)."""

    drift: Drift
    limits: Reach
    uncertainty: Reach | None

    @property
    def months(self) -> float:
        """Give the shorter of the two times."""
        return min(self.limits.time, *([] if self.uncertainty is None else [self.uncertainty.time]))


def reaches(elapsed: Sequence[float], changes: Sequence[float], aim: ValueAim, *, degree: int = 1) -> Reaches:
    """Fit the drift through the origin and predict how long limits and uncertainty hold.

    ``elapsed`` in months, ``changes`` as found minus the as-left value before. Raises what the fit raises.
    """
    drift = fit_drift(elapsed, changes, degree=degree)
    limits = predict_reach(
        drift, as_left=aim.as_left, lower=aim.lower, upper=aim.upper, reliability=aim.target
    )
    if aim.u_required is None:
        return Reaches(drift, limits, None)
    uncertainty = predict_uncertainty_reach(drift, u_start=aim.u_start, u_required=aim.u_required)
    return Reaches(drift, limits, uncertainty)


def propose_by_drift(
    values: tuple[Sequence[float], Sequence[float]],
    assigned_months: int,
    *,
    aim: ValueAim,
    bounds: Bounds,
    degree: int = 1,
    left_out: Mapping[str, int] | None = None,
) -> Proposal:
    """Propose the time that limits and uncertainty hold, never beyond the longest observed; with too few changes, keep.

    ``values`` are elapsed months and changes. Raises NoScatter, LimitsCrossed, SeriesUnusable, Undetermined.
    """
    elapsed, changes = values
    data = DataCount(len(changes), None, left_out or {})
    if min(len(elapsed), len(changes)) <= degree:
        # One more than coefficients, or nothing is known of the spread.
        needs = f"{degree + 1} changes from as-left to as-found"
        return propose(Finding(METHOD, None, None, data, SOURCES, needs=needs), assigned_months, bounds)
    found = reaches(elapsed, changes, aim, degree=degree)
    finding = Finding(
        method=METHOD,
        wanted_months=found.months,
        raw_months=found.months,
        data=data,
        sources=SOURCES,
        reach_months=found.drift.longest,
        notes=_notes(found),
        figures=_figures(found, aim, assigned_months),
    )
    return propose(finding, assigned_months, bounds)


def _figures(found: Reaches, aim: ValueAim, assigned_months: int) -> Mapping[str, object]:
    at = reliability_at(found.drift, assigned_months, as_left=aim.as_left, lower=aim.lower, upper=aim.upper)
    return {
        "rate_per_month": found.drift.rate,
        "s": found.drift.solution.s,
        "months_within_limits": found.limits.time,
        "months_within_uncertainty": None if found.uncertainty is None else found.uncertainty.time,
        "reliability_at_assigned": at,
    }


def _notes(found: Reaches) -> tuple[str, ...]:
    if found.months > found.drift.longest:
        return (f"predicted beyond the longest time observed, {found.drift.longest:g} months: a hope",)
    return ()
