"""Reads of what was handed in: its results, and what they say of the gauge when rolled up."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from instruments.measuring.models import Reading, Result, Session, Submission
from instruments.measuring.rejecting import rejections
from instruments.procedures.queries import content_of
from labsys.laboratory.queries import local_date
from labsys.metrology.verdicts import Verdict, roll_up


@dataclass(frozen=True)
class Outcome:
    """What one submission says of the gauge, stage by stage.

    ``as_found_within_limits`` is by the error alone, against the plain limits: it drives cases and interval
    statistics. ``functions`` are the verdicts of the last stage; ``unmeasured`` have none, so they are restricted.
    """

    as_found: Verdict | None
    as_found_within_limits: bool | None
    as_left: Verdict
    adjusted: bool
    functions: dict[str, Verdict]
    unmeasured: tuple[str, ...]
    rejections: tuple[str, ...]
    calibrated_on: date


def results_of(submission: Submission) -> list[Result]:
    """List the results of a submission in the order they were evaluated."""
    return list(submission.results.select_related("run", "reading").prefetch_related("points__references"))


def outcome_of(submission: Submission) -> Outcome:
    """Roll the results of a submission up: from result to function to stage to gauge."""
    found_runs = submission.session.runs.prefetch_related("checks", "zero_checks", "conditions")
    runs = list(found_runs.order_by("opened_at", "pk"))
    by_run: dict[int, list[Result]] = defaultdict(list)
    for result in submission.results.prefetch_related("points"):
        by_run[result.run_id].append(result)
    found, left = by_run[runs[0].pk], by_run[runs[-1].pk]
    reasons = rejections(runs[-1])
    functions = _by_function(left, submission.session)
    return Outcome(
        as_found=_rolled(found),
        as_found_within_limits=_all_within(found),
        as_left=_with_rejection(_rolled(left), bool(reasons)),
        adjusted=len(runs) > 1,
        functions=functions,
        unmeasured=tuple(name for name in submission.session.gauge.functions if name not in functions),
        rejections=reasons,
        calibrated_on=calibrated_on(submission.session),
    )


def calibrated_on(session: Session) -> date:
    """Give the day the measurements ended: that of the last reading, from which the due date counts."""
    last = Reading.objects.filter(point__run__session=session).order_by("-measured_at").first()
    return local_date(last.measured_at if last else session.opened_at)


def _by_function(results: list[Result], session: Session) -> dict[str, Verdict]:
    """Roll up by line of limits, and by the function of the gauge that a series measures: a span is of its travel."""
    content, has = content_of(session.revision), session.gauge.functions
    verdicts: dict[str, list[Verdict]] = defaultdict(list)
    for result in results:
        if result.verdict:
            series = [content.series_of(point.function) for point in list(result.points.all())[:1]]
            names = {result.function, *(one.measures for one in series if one and one.measures in has)}
            for name in names:
                verdicts[name].append(Verdict(result.verdict))
    return {function: roll_up(found) for function, found in verdicts.items()}


def _rolled(results: list[Result]) -> Verdict | None:
    verdicts = [Verdict(result.verdict) for result in results if result.verdict]
    return roll_up(verdicts) if verdicts else None


def _all_within(results: list[Result]) -> bool | None:
    """Say whether everything that has limits lies within them; None where nothing has."""
    found = [result.within_limits for result in results if result.within_limits is not None]
    return all(found) if found else None


def _with_rejection(verdict: Verdict | None, rejected: bool) -> Verdict:
    """A rejected gauge is at best not accepted; one without any result was not accepted either."""
    if verdict is None:
        return Verdict.NOT_ACCEPTED
    return roll_up([verdict, Verdict.NOT_ACCEPTED]) if rejected else verdict
