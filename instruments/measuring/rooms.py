"""Which notes of the room count: those that held while something was read."""

from __future__ import annotations

from datetime import datetime

from instruments.measuring.models import Condition, Reading, Run


def conditions_while_measuring(run: Run) -> list[Condition]:
    """Give the notes of a run's room from the last one before its first reading on.

    A room that was out, or mistyped, and was noted again before anything was read, harmed nothing: such a note stays in
    the record and counts for nothing. Asks the database only where the room was noted more than once.
    """
    rows = list(run.conditions.all())
    if len(rows) < 2:
        return rows
    first = first_reading(run)
    before = [n for n, row in enumerate(rows) if first is None or row.at <= first]
    return rows[before[-1] :] if before else rows


def first_reading(run: Run) -> datetime | None:
    """Find when the faces or a point of a run were read first; struck readings were read too."""
    times = [check.at for check in run.zero_checks.all()]
    found = (
        Reading.objects.filter(point__run=run).order_by("measured_at").values_list("measured_at", flat=True)
    )
    return min([*times, *found[:1]], default=None)
