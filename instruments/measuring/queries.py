"""Reads of the bench: what a session has and lacks, what a submission came to, what waits for whom."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet

from instruments.inventory.models import Gauge
from instruments.measuring.evaluation import Evaluated, Ground, evaluate_point, ground_of
from instruments.measuring.models import Point, Reading, Result, Run, Session, SetAside, Submission
from instruments.measuring.open_items import OpenItem, open_items
from instruments.measuring.rejecting import rejections
from labsys.laboratory.queries import local_date
from labsys.metrology.verdicts import Verdict, roll_up

UNDER_WAY = (Session.State.OPEN, Session.State.SUBMITTED, Session.State.RETURNED)


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


@dataclass(frozen=True)
class BenchPoint:
    """A point as the bench shows it: its readings, struck ones too, and what they say so far."""

    point: Point
    readings: tuple[Reading, ...]
    evaluated: Evaluated | None
    problem: str = ""

    @property
    def is_done(self) -> bool:
        """Say whether a reading that counts was taken."""
        return self.evaluated is not None


@dataclass(frozen=True)
class Bench:
    """Everything the bench page shows of a session."""

    session: Session
    run: Run
    ground: Ground
    points: tuple[BenchPoint, ...]
    void_points: tuple[Point, ...]
    open_items: tuple[OpenItem, ...]
    set_asides: tuple[SetAside, ...]
    rejections: tuple[str, ...]

    @property
    def next_point(self) -> BenchPoint | None:
        """Find the first point without a reading that counts."""
        return next((point for point in self.points if not point.is_done), None)


def sessions() -> QuerySet[Session]:
    """Find sessions with what lists show of them, newest first."""
    return Session.objects.select_related(
        "gauge__tag", "gauge__model", "gauge__department", "opened_by", "revision"
    )


def under_way(gauge: Gauge) -> Session | None:
    """Find the session under way on a gauge."""
    return sessions().filter(gauge=gauge, state__in=UNDER_WAY).first()


def waiting_for_review() -> QuerySet[Submission]:
    """Find the newest submissions of submitted sessions, oldest first: what waits for a signature."""
    return (
        Submission.objects.filter(session__state=Session.State.SUBMITTED, review=None)
        .select_related("session__gauge__tag", "session__gauge__model__family", "submitted_by")
        .order_by("submitted_at")
    )


def bench_of(session: Session) -> Bench:
    """Read everything the bench shows of a session, evaluated as of now."""
    run = current_run(session)
    ground = ground_of(run)
    rows = list(
        run.points.prefetch_related(
            "readings__strike",
            "readings__read_by",
            "references__element_value__calibration",
            "references__element_value__element__standard__tag",
        ).select_related("void")
    )
    live = [point for point in rows if not hasattr(point, "void")]
    points = tuple(BenchPoint(p, tuple(p.readings.all()), evaluate_point(p, ground)) for p in live)
    rejected = rejections(run, [point.evaluated for point in points if point.evaluated])
    return Bench(
        session=session,
        run=run,
        ground=ground,
        points=points,
        void_points=tuple(point for point in rows if hasattr(point, "void")),
        open_items=open_items(session, {run.pk: rejected}),
        set_asides=tuple(unanswered(session)),
        rejections=rejected,
    )


def current_run(session: Session) -> Run:
    """Find the run that takes readings now: the newest."""
    run = (
        session.runs.prefetch_related("checks", "zero_checks", "conditions")
        .order_by("-opened_at", "-pk")
        .first()
    )
    assert run is not None, "a session is opened with its first run"
    return run


def unanswered(session: Session) -> QuerySet[SetAside]:
    """Find what was set aside in a session and nobody answered for."""
    return SetAside.objects.filter(arrival__session=session, resolved_at=None).select_related("arrival")


def results_of(submission: Submission) -> list[Result]:
    """List the results of a submission in the order they were evaluated."""
    return list(submission.results.select_related("run", "reading").prefetch_related("points__references"))


def outcome_of(submission: Submission) -> Outcome:
    """Roll the results of a submission up: from result to function to stage to gauge."""
    runs = list(submission.session.runs.order_by("opened_at", "pk"))
    by_run: dict[int, list[Result]] = defaultdict(list)
    for result in submission.results.all():
        by_run[result.run_id].append(result)
    found, left = by_run[runs[0].pk], by_run[runs[-1].pk]
    reasons = rejections(runs[-1])
    functions = _by_function(left)
    return Outcome(
        as_found=_rolled(found),
        as_found_within_limits=all(result.within_limits for result in found) if found else None,
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


def _by_function(results: list[Result]) -> dict[str, Verdict]:
    verdicts: dict[str, list[Verdict]] = defaultdict(list)
    for result in results:
        verdicts[result.function].append(Verdict(result.verdict))
    return {function: roll_up(found) for function, found in verdicts.items()}


def _rolled(results: list[Result]) -> Verdict | None:
    return roll_up([Verdict(result.verdict) for result in results]) if results else None


def _with_rejection(verdict: Verdict | None, rejected: bool) -> Verdict:
    """A rejected gauge is at best not accepted; one without any result was not accepted either."""
    if verdict is None:
        return Verdict.NOT_ACCEPTED
    return roll_up([verdict, Verdict.NOT_ACCEPTED]) if rejected else verdict


def panel(gauge: Gauge, at: datetime) -> dict[str, Any]:
    """Give the sessions of a gauge opened by ``at``, for its page."""
    return {"sessions": sessions().filter(gauge=gauge, opened_at__lte=at)[:20], "under_way": under_way(gauge)}
