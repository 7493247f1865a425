"""Reads of a session at the bench: its points with what they say so far, what is open, what was set aside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch, QuerySet

from instruments.measuring.evaluation import (
    Evaluated,
    Ground,
    evaluate_point,
    ground_of,
    results_together,
)
from instruments.measuring.models import Check, Condition, Point, Reading, Run, Session, SetAside, ZeroCheck
from instruments.measuring.open_items import OpenItem, RunRead, open_items
from instruments.measuring.queries.sessions import sessions
from instruments.measuring.rejecting import rejections


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
    common: tuple[Evaluated, ...] = ()

    @property
    def next_point(self) -> BenchPoint | None:
        """Find the first point without a reading that counts."""
        return next((point for point in self.points if not point.is_done), None)


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
        ).select_related("void", "member")
    )
    live = [point for point in rows if not hasattr(point, "void")]
    points = tuple(BenchPoint(p, tuple(p.readings.all()), evaluate_point(p, ground)) for p in live)
    evaluated = [point.evaluated for point in points if point.evaluated]
    rejected = rejections(run, evaluated)
    return Bench(
        session=session,
        run=run,
        ground=ground,
        points=points,
        void_points=tuple(point for point in rows if hasattr(point, "void")),
        open_items=open_items(session, RunRead(run, live, rejected)),
        set_asides=tuple(unanswered(session)),
        rejections=rejected,
        common=tuple(results_together(evaluated, ground)),
    )


MOST_ASKING = 20
"""Open sessions that are looked through for a rule a reviewer could accept."""


@dataclass(frozen=True)
class Asking:
    """An open session in which nothing is left to do but to have deviations accepted."""

    session: Session
    items: tuple[OpenItem, ...]


def asking_for_deviations() -> tuple[Asking, ...]:
    """Find the open sessions that wait for a reviewer to accept a deviation, the longest open first."""
    rows = (
        sessions().filter(state__in=(Session.State.OPEN, Session.State.RETURNED)).order_by("opened_at", "pk")
    )
    found = ((row, open_items(row)) for row in rows.select_related("gauge__model__family")[:MOST_ASKING])
    return tuple(Asking(row, items) for row, items in found if items and all(item.deviable for item in items))


def current_run(session: Session) -> Run:
    """Find the run that takes readings now: the newest."""
    run = session.runs.prefetch_related(*observed()).order_by("-opened_at", "-pk").first()
    assert run is not None, "a session is opened with its first run"
    return run


def observed() -> tuple[Prefetch[str, Any, str], ...]:
    """Say what is read with a run: its answers, zeros and conditions, and who gave them."""
    return (
        Prefetch("checks", Check.objects.select_related("by")),
        Prefetch("zero_checks", ZeroCheck.objects.select_related("by")),
        Prefetch("conditions", Condition.objects.select_related("by", "sensor__tag", "span")),
    )


def unanswered(session: Session) -> QuerySet[SetAside]:
    """Find what was set aside in a session and nobody answered for."""
    return (
        SetAside.objects.filter(arrival__session=session, resolved_at=None)
        .select_related("arrival")
        .order_by("pk")
    )
