"""How long a gauge may stay out: the interval assigned to it, and the one extension a calibration may get."""

from __future__ import annotations

from datetime import date, datetime
from typing import ClassVar

from instruments.inventory.models import Gauge
from instruments.recall.access import PLAN_RECALL
from instruments.recall.models import CalibrationEvent, Extension, IntervalAssignment
from instruments.recall.operations.standing import refresh_standing
from instruments.recall.queries.due import due_of, interval_in_force, months_for
from instruments.recall.queries.facts import Facts, gather
from instruments.recall.queries.standing import passes
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.queries import local_date
from labsys.metrology import dates

LONGEST_STEP = 2
"""An interval at most doubles at once (common practice, no source)."""


class IntervalStepTooLarge(LabError, ValueError):
    """An interval more than doubled at once."""

    code: ClassVar[str] = "interval-step-too-large"
    sentence: ClassVar[str] = (
        "The interval in force is {current} months, so it can go up to {most} at once; found {found}. "
        "Lengthen it in steps, each after another calibration."
    )
    field: ClassVar[str | None] = "months"


class ExtensionRefused(LabError):
    """The due date can't be put off; the subclasses say why."""

    code: ClassVar[str] = "extension-refused"
    field: ClassVar[str | None] = "to_on"


class NothingToExtend(ExtensionRefused):
    """No calibration, so no due date."""

    code: ClassVar[str] = "nothing-to-extend"
    sentence: ClassVar[str] = "{gauge} has no calibration on record and so no due date. Calibrate it."


class AlreadyExtended(ExtensionRefused):
    """The due date was put off once already."""

    code: ClassVar[str] = "already-extended"
    sentence: ClassVar[str] = (
        "The due date of {gauge} was put off once already, to {to_on}; a second time is not possible. Call it in."
    )


class ExtensionTooLate(ExtensionRefused):
    """The due date has come."""

    code: ClassVar[str] = "extension-too-late"
    sentence: ClassVar[str] = (
        "{gauge} was due on {due_on}. An extension is approved before that day, never after. Call it in."
    )


class ExtensionBeyondCap(ExtensionRefused, ValueError):
    """The new day is too far off, or no later than the old one."""

    code: ClassVar[str] = "extension-beyond-cap"
    sentence: ClassVar[str] = (
        "{gauge} is due on {due_on}; it can be put off to {latest} at most (a tenth of its interval, "
        "30 days at most). Choose a day after the due date and no later than that."
    )


class ExtensionAfterOutOfTolerance(ExtensionRefused):
    """The last calibration found the gauge out of tolerance, or something speaks against it now."""

    code: ClassVar[str] = "extension-after-out-of-tolerance"
    sentence: ClassVar[str] = "The due date of {gauge} can't be put off: {why}. Call it in."


@act("recall.assign-interval")
def assign_interval(
    *, gauge: Gauge, months: int, reason: str, by: Acting, now: datetime
) -> IntervalAssignment:
    """Assign a recall interval in months with its reason. A shorter one holds at once, a longer one from the next
    calibration on. Raises IntervalStepTooLarge; ValidationError beyond 1 to 120 months.
    """
    require(by, PLAN_RECALL)
    current = interval_in_force(gauge, now)
    calibrated = CalibrationEvent.objects.filter(gauge=gauge).exists()
    if calibrated and months > LONGEST_STEP * current:
        raise IntervalStepTooLarge(
            current=current, most=LONGEST_STEP * current, found=months, subject=f"gauge:{gauge.pk}"
        )
    row = IntervalAssignment(
        gauge=gauge,
        months=months,
        decided_by=by.as_actor().name,
        valid_from=now,
        recorded_at=now,
        reason=reason,
    )
    row.full_clean()
    row.save()
    note(f"gauge:{gauge.pk}", reason=reason, before={"months": current}, after={"months": months})
    refresh_standing(gauge, now)
    return row


@act("recall.extend")
def extend(*, gauge: Gauge, to_on: date, reason: str, by: Acting, now: datetime) -> Extension:
    """Put a gauge's due date off, once per calibration, before it has come, within the cap.

    Raises NothingToExtend, AlreadyExtended, ExtensionTooLate, ExtensionAfterOutOfTolerance, ExtensionBeyondCap.
    """
    require(by, PLAN_RECALL)
    # Two at once: the second waits here and then finds the first.
    Gauge.objects.select_for_update(of=("self",), no_key=True).get(pk=gauge.pk)
    facts = gather([gauge], now)[gauge.pk]
    due = due_of(facts)
    event = _extendable(facts, due, local_date(now))
    _within_cap(facts, to_on)
    row = Extension.objects.create(
        event=event, to_on=to_on, approved_by=by.as_actor().name, approved_at=now, reason=reason
    )
    note(f"gauge:{gauge.pk}", reason=reason, before={"due_on": due}, after={"due_on": to_on})
    refresh_standing(gauge, now)
    return row


def _extendable(facts: Facts, due: date | None, today: date) -> CalibrationEvent:
    says = {"gauge": str(facts.gauge), "subject": f"gauge:{facts.gauge.pk}"}
    if facts.event is None or due is None:
        raise NothingToExtend(**says)
    if facts.extension is not None:
        raise AlreadyExtended(to_on=f"{facts.extension.to_on:%Y-%m-%d}", **says)
    if today >= due:
        raise ExtensionTooLate(due_on=f"{due:%Y-%m-%d}", **says)
    why = _speaks_against(facts, facts.event)
    if why:
        raise ExtensionAfterOutOfTolerance(why=why, **says)
    return facts.event


def _speaks_against(facts: Facts, event: CalibrationEvent) -> str:
    if event.as_found_within_limits is False:
        return "its last calibration found it out of tolerance"
    if not passes(event):
        return f"its last calibration left it {event.get_as_left_display()}"
    if facts.holds:
        return f"it is on hold ({facts.holds[0].get_kind_display()})"
    return ""


def _within_cap(facts: Facts, to_on: date) -> None:
    months = months_for(facts)
    assert facts.event is not None and months is not None
    due = dates.due_on(facts.event.calibrated_on, months)
    latest = dates.latest_due_on(facts.event.calibrated_on, months)
    if not due < to_on <= latest:
        raise ExtensionBeyondCap(
            gauge=str(facts.gauge),
            due_on=f"{due:%Y-%m-%d}",
            latest=f"{latest:%Y-%m-%d}",
            subject=f"gauge:{facts.gauge.pk}",
        )
