"""Reads of the register as a whole: the state of a standard at an instant, what is due and overdue."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, DateField, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from labsys.laboratory.queries import start_of_day
from standards.register.models import Calibration, Standard, StandardState


@dataclass(frozen=True)
class Due:
    """A standard in service and the last day on which its calibration holds."""

    standard: Standard
    due_on: date


def end_of_day(day: date) -> datetime:
    """Give the last instant of a day in the laboratory's zone."""
    return start_of_day(day + timedelta(days=1)) - timedelta(microseconds=1)


def state_of(standard: Standard, at: datetime) -> str:
    """Find the service state at ``at``, as known then; empty before the standard was registered."""
    row: StandardState | None = StandardState.objects.filter(standard=standard).in_force(at)
    return "" if row is None else row.state


def states_during(standard: Standard, start: datetime, end: datetime) -> set[str]:
    """Find every service state the standard had between two instants, both included."""
    rows = StandardState.objects.filter(standard=standard, valid_from__gt=start, valid_from__lte=end)
    return {state_of(standard, start), *rows.values_list("state", flat=True)} - {""}


def standards(at: datetime) -> QuerySet[Any]:
    """Find all standards with ``state_at``, ``due_on_at`` and ``in_force_id`` as of ``at``, ready for a list."""
    states = StandardState.objects.filter(standard=OuterRef("pk")).as_of(at)
    calibrations = Calibration.objects.filter(standard=OuterRef("pk"), accepted_at__lte=at).order_by(
        "-calibrated_on", "-accepted_at", "-pk"
    )
    return Standard.objects.select_related("tag", "place").annotate(
        state_at=Subquery(states.values("state")[:1]),
        due_on_at=Subquery(calibrations.values("due_on")[:1]),
        in_force_id=Subquery(calibrations.values("pk")[:1]),
        waiting=Count(
            "calibrations",
            filter=Q(calibrations__accepted_at=None, calibrations__rejected_at=None),
            distinct=True,
        ),
    )


def listed(at: datetime) -> QuerySet[Any]:
    """Find all standards as ``standards`` does, with ``due_order``: the due date, those without one last."""
    never = Value(date.max, output_field=DateField())
    found: QuerySet[Any] = standards(at).annotate(due_order=Coalesce("due_on_at", never))
    return found


def overdue(today: date) -> tuple[Due, ...]:
    """List the standards in service whose calibration no longer holds today, longest overdue first."""
    return due(today, Q(due_on_at__lt=today))


def lapsing(today: date, until: date) -> tuple[Due, ...]:
    """List the standards in service whose calibration ends between two days, both included, next first."""
    return due(today, Q(due_on_at__gte=today, due_on_at__lte=until))


def due(today: date, which: Q) -> tuple[Due, ...]:
    """List the standards in service, as of the end of today, whose due date answers ``which``."""
    rows = standards(end_of_day(today)).filter(which, state_at=StandardState.State.IN_SERVICE)
    return tuple(Due(row, row.due_on_at) for row in rows.order_by("due_on_at", "tag__text"))
