"""Interval by a reliability model: greatest likelihood on outcomes that are censored to intervals.

Lives here: what is asked of the data, the decision on the interval, its evidence. May not live here: fits and models.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labsys.metrology.intervals.assigning import EXTRAPOLATION, Bounds
from labsys.metrology.intervals.binomial import least_n
from labsys.metrology.intervals.checks import Checks
from labsys.metrology.intervals.comparing import Comparison, Row, compare_models
from labsys.metrology.intervals.fitting import refuse_low_target
from labsys.metrology.intervals.models import ModelName
from labsys.metrology.intervals.profiling import IntervalLimits, profile_limits
from labsys.metrology.intervals.proposals import Estimate, Finding, Proposal, propose
from labsys.metrology.intervals.records import DataCount
from labsys.metrology.intervals.testing import Aim

METHOD = "reliability model"
WIDE_SPREAD = 0.25
SOURCES = (
    "NCSLI RP-1, methods S2 and S3, and NASA RP-1342 (models from memory): outcomes censored to intervals",
    "limits: likelihood ratio, 2·(ln L_max − ln L) = χ²(C; 1)",
)


@dataclass(frozen=True, slots=True)
class ByModel:
    """The proposal with the table it rests on and the limits of the model taken; None where there was too little data,
    or for the limits no adequate model.
    """

    proposal: Proposal
    compared: Comparison | None = None
    limits: IntervalLimits | None = None


def propose_by_model(
    checks: Checks | None,
    assigned_months: int,
    *,
    aim: Aim,
    bounds: Bounds,
    models: Sequence[ModelName] = tuple(ModelName),
    data: DataCount | None = None,
) -> ByModel:
    """Propose an interval by the best adequate model.

    The assigned interval is kept while it lies within the limits of the estimate. Beyond them it is lengthened to the
    lower limit, or shortened to the estimate. ``data`` counts what was left out where no check is usable. Raises
    TargetTooLow, NotConverged, NoModelNamed.
    """
    refuse_low_target(aim.target)
    if checks is None or checks.data.out in (0, checks.data.used):
        seen = checks.data if checks is not None else data or DataCount(0, 0, {})
        return ByModel(propose(_too_little(seen, aim), assigned_months, bounds))
    compared = compare_models(checks, aim.target, models)
    if compared.taken is None:
        return ByModel(propose(_none_adequate(checks), assigned_months, bounds), compared)
    limits = profile_limits(checks, compared.taken.fit, aim.target, confidence=aim.confidence)
    finding = _finding(checks, compared, limits, assigned_months)
    return ByModel(propose(finding, assigned_months, bounds), compared, limits)


def wanted_months(limits: IntervalLimits, assigned_months: int) -> float | None:
    """Give what the limits ask for: the lower one to lengthen, the estimate to shorten, None to keep."""
    if limits.low > assigned_months:
        return limits.low
    return limits.months if limits.high < assigned_months else None


def _finding(checks: Checks, compared: Comparison, limits: IntervalLimits, assigned_months: int) -> Finding:
    taken = compared.taken
    assert taken is not None  # the caller answered that
    wanted = wanted_months(limits, assigned_months)
    return Finding(
        method=METHOD,
        wanted_months=wanted,
        raw_months=limits.months,
        data=checks.data,
        sources=SOURCES,
        estimate=Estimate(
            "interval at the target, months", limits.months, limits.low, limits.high, limits.confidence
        ),
        reach_months=EXTRAPOLATION * checks.longest_elapsed,
        needs="" if wanted is not None else "more records: the assigned interval lies within the limits",
        notes=_notes(compared, taken, limits),
        figures=_figures(compared, taken, assigned_months),
    )


def _none_adequate(checks: Checks) -> Finding:
    notes = ("no adequate model: every one is rejected by its deviance",)
    needs = "groups of items that are more alike, or more records"
    return Finding(METHOD, None, None, checks.data, SOURCES, needs=needs, notes=notes)


def _too_little(data: DataCount, aim: Aim) -> Finding:
    out = "at least one record in and one out of tolerance, at two ages or more"
    least = least_n(aim.target, confidence=aim.confidence)
    needs = f"{out}; or {least} records without a failure for the interval test"
    return Finding(METHOD, None, None, data, SOURCES, needs=needs)


def _figures(compared: Comparison, taken: Row, assigned_months: int) -> Mapping[str, object]:
    return {
        "model": taken.fit.name.value,
        "reliability_at_assigned": taken.fit.reliability(assigned_months),
        "adequate_months": compared.adequate_months,
        "spread": compared.spread,
    }


def _notes(compared: Comparison, taken: Row, limits: IntervalLimits) -> tuple[str, ...]:
    notes = list(taken.warnings)
    if limits.months == 0:
        notes.append("the reliability lies below the target from the beginning: no interval can reach it")
    notes.extend(f"{name}: not fitted" for name in compared.not_fitted)
    if compared.spread is not None and compared.spread > WIDE_SPREAD:
        words = "without bound" if math.isinf(compared.spread) else f"by {compared.spread:.0%}"
        notes.append(f"the intervals of adequate models differ {words}: the choice of model matters")
    return tuple(notes)
