"""A calibration that counts: recorded once, with its due date; what it found bad blocks the gauge at once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import ClassVar

from instruments.inventory.models import Gauge
from instruments.recall.models import CalibrationEvent, Hold
from instruments.recall.operations.holds import put_hold
from instruments.recall.operations.standing import refresh_standing
from instruments.recall.queries.due import interval_in_force
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.laboratory.queries import local_date
from labsys.metrology import dates


class CalibratedInTheFuture(LabError, ValueError):
    """A calibration day that hasn't come yet."""

    code: ClassVar[str] = "calibrated-in-the-future"
    sentence: ClassVar[str] = (
        "The calibration is dated {calibrated_on}, after today, {today}. Check the date on the record."
    )
    field: ClassVar[str | None] = "calibrated_on"


@dataclass(frozen=True)
class CalibrationOutcome:
    """What a calibration found: verdicts by the agreed rule, and the as-found error against the plain limits."""

    as_found: str
    as_found_within_limits: bool | None
    as_left: str
    adjusted: bool = False


@act("recall.record-calibration")
def record_calibration(
    *,
    gauge: Gauge,
    source: str,
    calibrated_on: date,
    outcome: CalibrationOutcome,
    by: Acting,
    now: datetime,
) -> CalibrationEvent:
    """Record a calibration of ``gauge`` from ``source`` (``session:812``, ``outside:4``); an inner act.

    The act that calls it has checked who may. The gauge is due one interval after ``calibrated_on``, clamped to the
    month's end. As found beyond the plain limits, it is put on hold, and somebody is owed the question what it
    measured meanwhile. Raises CalibratedInTheFuture.
    """
    event = _event(gauge, source, calibrated_on, outcome, now)
    note(
        f"gauge:{gauge.pk}",
        after={
            "calibration": source,
            "calibrated_on": calibrated_on,
            "due_on": event.due_on,
            **vars(outcome),
        },
    )
    if outcome.as_found_within_limits is False:
        put_hold(
            gauge=gauge,
            kind=Hold.Kind.OUT_OF_TOLERANCE,
            reason=f"As found beyond its limits on {calibrated_on:%Y-%m-%d}.",
            source=source,
            by=by,
            now=now,
        )
    refresh_standing(gauge, now)
    return event


def _event(
    gauge: Gauge, source: str, calibrated_on: date, outcome: CalibrationOutcome, now: datetime
) -> CalibrationEvent:
    today = local_date(now)
    if calibrated_on > today:
        raise CalibratedInTheFuture(
            calibrated_on=f"{calibrated_on:%Y-%m-%d}", today=f"{today:%Y-%m-%d}", subject=f"gauge:{gauge.pk}"
        )
    months = interval_in_force(gauge, now)
    event = CalibrationEvent(
        gauge=gauge,
        source=source,
        calibrated_on=calibrated_on,
        recorded_at=now,
        interval_months=months,
        due_on=dates.due_on(calibrated_on, months),
        **vars(outcome),
    )
    event.full_clean(exclude=["as_found_within_limits"])
    event.save()
    return event
