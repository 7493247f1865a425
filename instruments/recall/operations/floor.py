"""What people at the machine record: a check before use, damage, handing a gauge over."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from instruments.inventory import operations as inventory
from instruments.inventory.models import CustodyEvent, Gauge
from instruments.recall.access import RECEIVE_GAUGES, USE_GAUGES
from instruments.recall.models import Hold, UseCheck
from instruments.recall.operations.holds import put_hold
from instruments.recall.operations.standing import refresh_standing
from instruments.recall.queries.facts import gather
from instruments.recall.queries.floor import in_care_of
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require
from labsys.laboratory.models import Place
from labsys.laboratory.queries import local_date


class NotInYourCare(LabError, PermissionError):
    """The gauge is kept by somebody else."""

    code: ClassVar[str] = "not-in-your-care"
    sentence: ClassVar[str] = (
        "{gauge} belongs to {department} and is kept by {keeper}. Ask them, or the laboratory."
    )


class InTheLaboratoryNow(LabError):
    """What is in the laboratory can't be handed over on the floor."""

    code: ClassVar[str] = "in-the-laboratory-now"
    sentence: ClassVar[str] = "{gauge} is in the laboratory; only the laboratory gives it back."


def _require_care(gauge: Gauge, by: Person) -> None:
    if not in_care_of(gauge, by) and not by.may(RECEIVE_GAUGES):
        keeper = gauge.custodian.name if gauge.custodian else "nobody in particular"
        raise NotInYourCare(
            gauge=str(gauge), department=gauge.department.name, keeper=keeper, subject=f"gauge:{gauge.pk}"
        )


@act("recall.record-use-check")
def record_use_check(*, gauge: Gauge, good: bool, note: str = "", by: Person, now: datetime) -> UseCheck:
    """Record a check before use. A good one lets the gauge be used today; a bad one puts it on hold at once.

    Raises NotInYourCare for a gauge of another department.
    """
    require(by, USE_GAUGES)
    _require_care(gauge, by)
    row = UseCheck(gauge=gauge, checked_on=local_date(now), checked_at=now, by=by, good=good, note=note)
    row.full_clean()
    row.save()
    _say(gauge, after={"check": row.pk, "good": good, "note": note})
    if not good:
        said = note or "The check before use failed."
        put_hold(
            gauge=gauge,
            kind=Hold.Kind.FAILED_CHECK,
            reason=said,
            source=f"use-check:{row.pk}",
            by=by,
            now=now,
        )
    refresh_standing(gauge, now)
    return row


@act("recall.report-damage")
def report_damage(*, gauge: Gauge, what: str, by: Person, now: datetime) -> Hold:
    """Report damage: the gauge is on hold at once. Whoever may use gauges may report any of them."""
    require(by, USE_GAUGES)
    row = put_hold(gauge=gauge, kind=Hold.Kind.DAMAGE, reason=what, source="", by=by, now=now)
    refresh_standing(gauge, now)
    return row


@act("recall.hand-over")
def hand_over(*, gauge: Gauge, to: str, place: Place | None, by: Person, now: datetime) -> CustodyEvent:
    """Record that a gauge goes to somebody else on the floor. Raises InTheLaboratoryNow; inventory
    refuses somebody of the floor who isn't its custodian."""
    require(by, USE_GAUGES)
    if gather([gauge], now)[gauge.pk].received_at is not None:
        raise InTheLaboratoryNow(gauge=str(gauge), subject=f"gauge:{gauge.pk}")
    event: CustodyEvent = inventory.record_custody(
        gauge=gauge,
        kind=CustodyEvent.Kind.HANDED_OVER,
        place=place,
        condition=f"To {to}.",
        at=now,
        by=by,
        now=now,
    )
    _say(gauge, after={"handed_over_to": to, "place": str(place or "")})
    refresh_standing(gauge, now)
    return event


def _say(gauge: Gauge, *, after: dict[str, object]) -> None:
    note(f"gauge:{gauge.pk}", after=after)
