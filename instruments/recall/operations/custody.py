"""Gauges coming in and going out: received with their condition, given back only when verified."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import ClassVar

from instruments.inventory import operations as inventory
from instruments.inventory.models import CustodyEvent, Gauge, GaugeState
from instruments.inventory.pictures import Picture
from instruments.recall.access import RECEIVE_GAUGES
from instruments.recall.models import CallIn, Hold
from instruments.recall.operations.holds import put_hold
from instruments.recall.operations.standing import refresh_standing
from instruments.recall.queries.facts import Facts, gather
from instruments.recall.queries.standing import Rank, decide, passes, restricted_since
from instruments.recall.queries.verified import calibrated_since, checked_since
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.models import Place
from labsys.laboratory.queries import local_date

State = GaugeState.State

_PUT_IN_SERVICE = (State.NEW, State.AWAY, State.ON_LOAN)
"""States that end when the verified gauge is given back; the others stay until somebody changes them."""

_NOT_IN_USE = (State.OUT_OF_SERVICE, State.SCRAPPED, State.LOST)


class NotInLaboratory(LabError):
    """The gauge isn't in the laboratory."""

    code: ClassVar[str] = "not-in-laboratory"
    sentence: ClassVar[str] = "{gauge} is not in the laboratory, so it can't be given back. Receive it first."


class NotVerified(LabError):
    """A gauge may not go back into service before it was shown to be good (17025, 6.4.4)."""

    code: ClassVar[str] = "not-verified"
    sentence: ClassVar[str] = "{gauge} can't go back into service: {why}. {next}"
    field: ClassVar[str | None] = "state"


@act("recall.receive")
def receive(
    *,
    gauge: Gauge,
    condition: str,
    damaged: bool,
    place: Place | None,
    at: datetime,
    photos: Sequence[Picture] = (),
    by: Person,
    now: datetime,
) -> CustodyEvent:
    """Receive a gauge in the laboratory as of ``at``: answers its call-in; damage puts it on hold at once.

    Inventory refuses an ``at`` in the future or before the gauge's last step, and a gauge that is here already.
    """
    require(by, RECEIVE_GAUGES)
    event: CustodyEvent = inventory.record_custody(
        gauge=gauge,
        kind=CustodyEvent.Kind.RECEIVED,
        place=place,
        condition=inventory.Condition(condition, damaged),
        at=at,
        by=by,
        now=now,
    )
    if photos:
        inventory.add_custody_photos(event=event, pictures=photos, by=by, now=now)
    answered = CallIn.objects.filter(gauge=gauge, answered_at=None, withdrawn_at=None).update(answered_at=at)
    note(f"gauge:{gauge.pk}", after={"received_at": at, "damaged": damaged, "call_ins_answered": answered})
    if damaged:
        said = condition or "Damaged on receipt."
        put_hold(gauge=gauge, kind=Hold.Kind.DAMAGE, reason=said, source="", by=by, now=now)
    refresh_standing(gauge, now)
    return event


@act("recall.release")
def release(*, gauge: Gauge, handed_to_note: str, by: Person, now: datetime) -> CustodyEvent:
    """Give a gauge back. It goes back into service only verified; what is out of service goes back as that.

    A gauge that was new, away or on loan is in service from then on. Raises NotInLaboratory, NotVerified.
    """
    require(by, RECEIVE_GAUGES)
    facts = gather([gauge], now)[gauge.pk]
    if facts.received_at is None:
        raise NotInLaboratory(gauge=str(gauge), subject=f"gauge:{gauge.pk}")
    if facts.state not in _NOT_IN_USE:
        _require_verified(facts, facts.received_at, now)
    event: CustodyEvent = inventory.record_custody(
        gauge=gauge,
        kind=CustodyEvent.Kind.RETURNED,
        place=gauge.place,
        condition=handed_to_note,
        at=now,
        by=by,
        now=now,
    )
    if facts.state in _PUT_IN_SERVICE:
        said = "Accepted on being given back." if facts.state == State.NEW else "Back and verified."
        inventory.change_state(gauge=gauge, state=State.IN_SERVICE, reason=said, by=by, now=now)
    note(f"gauge:{gauge.pk}", after={"returned_at": now, "handed_to": handed_to_note})
    refresh_standing(gauge, now)
    return event


@act("recall.change-state")
def change_state(*, gauge: Gauge, state: str, reason: str, by: Acting, now: datetime) -> GaugeState:
    """Change the service state with a reason. Into service only verified since it left; raises NotVerified."""
    facts = gather([gauge], now)[gauge.pk]
    if state == State.IN_SERVICE:
        _require_in_order(facts, now)
    row: GaugeState = inventory.change_state(gauge=gauge, state=state, reason=reason, by=by, now=now)
    refresh_standing(gauge, now)
    return row


def _refuse(facts: Facts, why: str, next_step: str) -> None:
    raise NotVerified(gauge=str(facts.gauge), why=why, next=next_step, subject=f"gauge:{facts.gauge.pk}")


def _require_verified(facts: Facts, since: datetime, now: datetime) -> None:
    """Refuse a gauge on hold, or one that nothing was shown of since then."""
    if facts.holds:
        kind = facts.holds[0].get_kind_display()
        _refuse(facts, f"it is on hold ({kind})", "Look into it and lift the hold first.")
    if not facts.gauge.calibration_needed or calibrated_since(facts.gauge, since, now):
        return
    fit = facts.event is not None and (passes(facts.event) or restricted_since(facts))
    if facts.state == State.NEW or not (fit and checked_since(facts.gauge, since, now)):
        day = f"{local_date(since):%Y-%m-%d}"
        _refuse(facts, f"nothing shows since {day} that it is good", "Calibrate it, or record a good check.")


def _require_in_order(facts: Facts, now: datetime) -> None:
    if facts.state in (State.SCRAPPED, State.LOST):
        return  # inventory says where these may lead
    row: GaugeState | None = GaugeState.objects.filter(gauge=facts.gauge).in_force(now)
    if facts.state == State.STORED and _still_current(facts, now):
        return
    if row is not None and facts.state != State.IN_SERVICE:
        _require_verified(facts, row.valid_from, now)


def _still_current(facts: Facts, now: datetime) -> bool:
    """Say whether a stored gauge may be taken out without more: nothing on hold, and not due yet."""
    answer = decide(facts)
    due = answer.valid_until
    return answer.rank == Rank.STORED and (due is None or due >= local_date(now))
