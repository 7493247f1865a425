"""Acts on calibrations of standards: recording what one found, and the one decision about using it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, ClassVar

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.queries import local_date
from labsys.metrology import dates
from standards.register.access import ACCEPT_CALIBRATIONS, KEEP_STANDARDS
from standards.register.models import Calibration, ElementValue, Standard
from standards.register.operations.states import enter_service
from standards.register.values import ValueData, check


class CalibratedInTheFuture(LabError, ValueError):
    """A calibration dated later than today."""

    code: ClassVar[str] = "calibrated-in-the-future"
    sentence: ClassVar[str] = (
        "The calibration is dated {found}, which is after today, {today}. Correct the date."
    )
    field: ClassVar[str | None] = "calibrated_on"


class AlreadyDecided(LabError):
    """A calibration is accepted or rejected once."""

    code: ClassVar[str] = "calibration-already-decided"
    sentence: ClassVar[str] = (
        "The calibration of {tag} on {calibrated_on} was {decision} before. A decision stands; "
        "a corrected certificate is received as a new one."
    )


@act("register.record-calibration")
def record_calibration(
    *,
    standard: Standard,
    calibrated_on: date,
    values: tuple[ValueData, ...],
    evidence: str,
    by: Acting,
    now: datetime,
) -> Calibration:
    """Record what a calibration found, due after the standard's interval (months added to the calibration's day).

    The values may not be used until it is accepted. Raises CalibratedInTheFuture, NoValues and ValueRefused.
    """
    require(by, KEEP_STANDARDS)
    if calibrated_on > local_date(now):
        raise CalibratedInTheFuture(found=f"{calibrated_on}", today=f"{local_date(now)}")
    check(standard, values)
    row = Calibration(
        standard=standard,
        calibrated_on=calibrated_on,
        due_on=dates.due_on(calibrated_on, standard.interval_months),
        recorded_at=now,
        evidence=evidence,
    )
    row.full_clean(exclude=["accepted_at", "rejected_at"])
    row.save()
    ElementValue.objects.bulk_create(ElementValue(calibration=row, **vars(value)) for value in values)
    note(f"calibration:{row.pk}", after=_said(row, values))
    return row


@act("register.mark-accepted")
def mark_accepted(*, calibration: Calibration, by: Acting, now: datetime, reason: str = "") -> None:
    """Let the values of a calibration be used from now on; the first one puts a new standard into service.

    Called by the review that accepted it, whose reason is passed on. Raises AlreadyDecided.
    """
    require(by, ACCEPT_CALIBRATIONS)
    _decide(calibration, "accepted_at", now)
    note(f"calibration:{calibration.pk}", reason=reason, after={"accepted_at": now})
    verified = reason or "Its first calibration was reviewed and accepted."
    enter_service(standard=calibration.standard, reason=verified, now=now)


@act("register.mark-rejected")
def mark_rejected(*, calibration: Calibration, by: Acting, now: datetime, reason: str = "") -> None:
    """Keep the values of a calibration from ever being used. Raises AlreadyDecided."""
    require(by, ACCEPT_CALIBRATIONS)
    _decide(calibration, "rejected_at", now)
    note(f"calibration:{calibration.pk}", reason=reason, after={"rejected_at": now})


def _decide(calibration: Calibration, column: str, now: datetime) -> None:
    undecided = Calibration.objects.filter(pk=calibration.pk, accepted_at=None, rejected_at=None)
    if undecided.update(**{column: now}) != 1:
        calibration.refresh_from_db()
        raise AlreadyDecided(
            tag=str(calibration.standard.tag),
            calibrated_on=f"{calibration.calibrated_on}",
            decision="accepted" if calibration.accepted_at else "rejected",
            subject=f"calibration:{calibration.pk}",
        )
    setattr(calibration, column, now)


def _said(row: Calibration, values: tuple[ValueData, ...]) -> dict[str, Any]:
    return {
        "standard": str(row.standard.tag),
        "calibrated_on": row.calibrated_on,
        "due_on": row.due_on,
        "evidence": row.evidence,
        "values": [{**vars(value), "element": value.element.label} for value in values],
    }
