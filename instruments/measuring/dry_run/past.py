"""Past sessions of a family with everything that judging them again needs, in a fixed number of questions.

Lives here: reading rows. May not live here: judging.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from instruments.measuring.models import Point, Result, Run, Session, Submission
from instruments.procedures.models import Revision

HANDED_IN = (Session.State.SUBMITTED, Session.State.APPROVED)


@dataclass(frozen=True)
class PastRun:
    """One run: its live points with readings and references, its results as they were stored."""

    run: Run
    points: tuple[Point, ...]
    results: tuple[Result, ...]


@dataclass(frozen=True)
class PastSession:
    """One session with its runs in order."""

    session: Session
    runs: tuple[PastRun, ...]


def past_sessions(revision: Revision) -> QuerySet[Session]:
    """Find the sessions of the revision's family that were handed in under other revisions, newest first."""
    return (
        Session.objects.filter(gauge__model__family=revision.procedure.family_id, state__in=HANDED_IN)
        .exclude(revision=revision)
        .order_by("-opened_at", "-pk")
    )


def read_past(revision: Revision, at_most: int) -> tuple[PastSession, ...]:
    """Read the newest ``at_most`` past sessions of a revision's family."""
    runs = Run.objects.order_by("opened_at", "pk").prefetch_related("zero_checks", "conditions")
    rows = list(
        past_sessions(revision)
        .select_related("gauge__tag", "gauge__model", "revision__procedure")
        .prefetch_related(
            "gauge__members",
            Prefetch("runs", runs),
            Prefetch("submissions", Submission.objects.defer("record")),
        )[:at_most]
    )
    points, results = _points(rows), _results(rows)
    return tuple(
        PastSession(
            row,
            tuple(PastRun(run, tuple(points[run.pk]), tuple(results[run.pk])) for run in row.runs.all()),
        )
        for row in rows
    )


def _points(rows: list[Session]) -> dict[int, list[Point]]:
    found: dict[int, list[Point]] = defaultdict(list)
    live = (
        Point.objects.filter(run__session__in=[row.pk for row in rows], void=None)
        .select_related("member")
        .prefetch_related(
            "readings__strike",
            "references__element_value__calibration",
            "references__element_value__element__standard__tag",
        )
    )
    for point in live:
        found[point.run_id].append(point)
    return found


def _results(rows: list[Session]) -> dict[int, list[Result]]:
    """Read the results of the newest submission of each session, by run."""
    newest = [next(iter(row.submissions.all())).pk for row in rows]
    found: dict[int, list[Result]] = defaultdict(list)
    points = Prefetch("points", Point.objects.select_related("member"))
    for result in Result.objects.filter(submission__in=newest).prefetch_related(points).order_by("pk"):
        found[result.run_id].append(result)
    return found
