"""Asking for gauges to come: many at once, each named that can't be called and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import ClassVar

from instruments.inventory.models import Gauge
from instruments.recall.access import PLAN_RECALL
from instruments.recall.models import CallIn
from instruments.recall.queries.call_ins import Skipped, call_in_plan
from labsys.errors import LabError
from labsys.journal import door
from labsys.journal.door import Acting, act
from labsys.journal.roles import require
from labsys.laboratory.queries import local_date


class BringByInThePast(LabError, ValueError):
    """A day to bring gauges by that has gone."""

    code: ClassVar[str] = "bring-by-in-the-past"
    sentence: ClassVar[str] = (
        "Gauges can't be asked for by {bring_by}: today is {today}. Choose today or later."
    )
    field: ClassVar[str | None] = "bring_by"


class NothingToCallIn(LabError):
    """Not one of the gauges chosen can be called in."""

    code: ClassVar[str] = "nothing-to-call-in"
    sentence: ClassVar[str] = "None of the {count} chosen gauges can be called in. {why}"


class CallInClosed(LabError):
    """The call-in was answered or withdrawn already."""

    code: ClassVar[str] = "call-in-closed"
    sentence: ClassVar[str] = "The call-in of {gauge} is closed already: it was {how}. Nothing was changed."


@dataclass(frozen=True)
class CallInOutcome:
    """What a bulk call-in did: the call-ins written, and the gauges left out with a sentence each."""

    called: tuple[CallIn, ...]
    skipped: tuple[Skipped, ...]


@act("recall.call-in")
def call_in(
    *, gauges: Sequence[Gauge], bring_by: date, note: str = "", by: Acting, now: datetime
) -> CallInOutcome:
    """Ask for gauges to be brought to the laboratory by a day. Gauges that can't be called are left out and named.

    Raises BringByInThePast, and NothingToCallIn when not one is left.
    """
    require(by, PLAN_RECALL)
    today = local_date(now)
    if bring_by < today:
        raise BringByInThePast(bring_by=f"{bring_by:%Y-%m-%d}", today=f"{today:%Y-%m-%d}")
    chosen = Gauge.objects.filter(pk__in=[gauge.pk for gauge in gauges])
    locked = list(chosen.select_for_update(of=("self",), no_key=True).select_related("tag").order_by("pk"))
    plan = call_in_plan(locked)
    if not plan.callable:
        raise NothingToCallIn(count=len(gauges), why=plan.skipped[0].sentence if plan.skipped else "")
    called = CallIn.objects.bulk_create(
        CallIn(gauge=gauge, called_at=now, called_by=by.as_actor().name, bring_by=bring_by, note=note)
        for gauge in plan.callable
    )
    for row in called:
        door.note(f"gauge:{row.gauge_id}", reason=note, after={"called_in": row.pk, "bring_by": bring_by})
    return CallInOutcome(tuple(called), plan.skipped)


@act("recall.withdraw-call-in")
def withdraw_call_in(*, call: CallIn, reason: str, by: Acting, now: datetime) -> CallIn:
    """Withdraw an open call-in with a reason; raises CallInClosed."""
    require(by, PLAN_RECALL)
    row = CallIn.objects.select_for_update(of=("self",)).select_related("gauge__tag").get(pk=call.pk)
    if row.answered_at or row.withdrawn_at:
        how = "answered" if row.answered_at else "withdrawn"
        raise CallInClosed(gauge=str(row.gauge), how=how, subject=f"gauge:{row.gauge_id}")
    row.withdrawn_at, row.withdrawn_reason = now, reason
    row.full_clean(exclude=["gauge", "answered_at"])
    row.save(update_fields=["withdrawn_at", "withdrawn_reason"])
    door.note(f"gauge:{row.gauge_id}", reason=reason, before={"called_in": row.pk})
    return row
