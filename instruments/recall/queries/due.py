"""When a gauge is due: the end of its last calibration plus the interval, shortened or extended since."""

from __future__ import annotations

from datetime import date, datetime

from instruments.inventory.models import Gauge
from instruments.recall.models import CalibrationEvent, IntervalAssignment
from instruments.recall.queries.facts import Facts, gather
from labsys.metrology import dates


def interval_in_force(gauge: Gauge, at: datetime) -> int:
    """Give the recall interval in months at ``at``: the assigned one, otherwise the family's default."""
    row: IntervalAssignment | None = IntervalAssignment.objects.filter(gauge=gauge).in_force(at)
    return row.months if row else gauge.model.family.default_interval_months


def last_event(gauge: Gauge, at: datetime | None = None) -> CalibrationEvent | None:
    """Find the calibration that counts: the one with the newest calibration day, as recorded by ``at``."""
    rows = CalibrationEvent.objects.filter(gauge=gauge)
    if at is not None:
        rows = rows.filter(recorded_at__lte=at)
    return rows.order_by("-calibrated_on", "-pk").first()


def months_for(facts: Facts) -> int | None:
    """Give the interval that the current calibration runs on; None without a calibration.

    An interval that was shortened since holds at once; a longer one only from the next calibration on (common
    practice, no source).
    """
    if facts.event is None:
        return None
    event = facts.event
    since = [row.months for row in facts.intervals if row.valid_from >= event.recorded_at]
    return min([event.interval_months, *since])


def due_of(facts: Facts) -> date | None:
    """Give the due day (valid through its end), an extension included; None without a calibration.

    An interval shortened after an extension takes the extension away.
    """
    months = months_for(facts)
    if facts.event is None or months is None:
        return None
    due = dates.due_on(facts.event.calibrated_on, months)
    extension = facts.extension
    if extension is None:
        return due
    later = [row for row in facts.intervals if row.valid_from > extension.approved_at]
    shortened = any(row.months < months_before(facts, extension.approved_at) for row in later)
    return min(extension.to_on, due) if shortened else extension.to_on


def months_before(facts: Facts, at: datetime) -> int:
    """Give the interval the current calibration ran on at ``at``; the facts must hold a calibration."""
    assert facts.event is not None
    event = facts.event
    since = [r.months for r in facts.intervals if event.recorded_at <= r.valid_from <= at]
    return min([event.interval_months, *since])


def due_on(gauge: Gauge, at: datetime) -> date | None:
    """Give the day a gauge is due as of ``at``; None when it has no calibration or needs none."""
    return due_of(gather([gauge], at)[gauge.pk]) if gauge.calibration_needed else None
