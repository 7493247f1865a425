"""A whole run: every live point, what points say together, the zero that can't be set; and the trial of the rule.

Lives here: reading a run with what its points need. May not live here: one point (points.py).
"""

from __future__ import annotations

from django.db.models import QuerySet

from instruments.measuring.evaluation.evaluated import Evaluated
from instruments.measuring.evaluation.ground import Ground, ground_of
from instruments.measuring.evaluation.points import evaluate_point, evaluate_zero, judge, prospect_of
from instruments.measuring.evaluation.together import prospects_together, results_together
from instruments.measuring.models import Point, Reading, Run, ZeroCheck
from instruments.measuring.zeros import is_fixed

__all__ = ["evaluate_run", "is_out_of_tolerance", "results_together", "try_rule"]


def evaluate_run(run: Run) -> list[Evaluated]:
    """Evaluate every live point of a run that has a reading that counts, what they say together, and a fixed zero."""
    ground = ground_of(run)
    found = [evaluate_point(point, ground) for point in with_references(run)]
    points = [item for item in found if item is not None]
    return [*_fixed_zero(run, ground), *points, *results_together(points, ground)]


def try_rule(run: Run) -> None:
    """Refuse at the start what could never be decided: raises NoLimitForFunction, AccuracyRatioTooLow and the like.

    Every laid-out point, and every result of several, is judged as if it were nought, with the uncertainty it will
    have at 20 °C.
    """
    ground = ground_of(run)
    prospects = [prospect_of(point, ground) for point in with_references(run)]
    for _common in prospects_together(prospects, ground):
        pass


def is_out_of_tolerance(reading: Reading) -> bool:
    """Say whether one reading, by itself, lies beyond the plain limits of its point; never where it has none."""
    point, ground = reading.point, ground_of(reading.point.run)
    series = ground.content.series_of(point.function)
    if series is not None and series.order:
        return False
    return judge(point, ground, [reading]).within_limits is False


def with_references(run: Run) -> QuerySet[Point]:
    """Read the live points of a run with all that judging them needs."""
    return (
        Point.objects.filter(run=run, void=None)
        .select_related("member")
        .prefetch_related(
            "readings__strike",
            "references__element_value__calibration",
            "references__element_value__element__standard__tag",
        )
    )


def _fixed_zero(run: Run, ground: Ground) -> list[Evaluated]:
    found = [z for z in run.zero_checks.all() if z.kind == ZeroCheck.Kind.AS_FOUND]
    if not found or not is_fixed(ground.model, ground.content):
        return []
    return [evaluate_zero(found[0].value_mm, ground)]
