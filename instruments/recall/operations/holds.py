"""Blocks on a gauge: set at once, lifted with a reason and only after the gauge was verified."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from instruments.inventory.models import Gauge
from instruments.recall.access import HOLD_GAUGES, RELEASE_GAUGES
from instruments.recall.models import Hold
from instruments.recall.operations.standing import refresh_standing
from instruments.recall.queries.verified import lift_is_verified
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require

OWED = (Hold.Kind.OUT_OF_TOLERANCE, Hold.Kind.DAMAGE, Hold.Kind.FAILED_CHECK)
"""Kinds of hold that somebody must look into: what did the gauge measure before it was found so?"""


class HoldAlreadyLifted(LabError):
    """The hold is gone already."""

    code: ClassVar[str] = "hold-already-lifted"
    sentence: ClassVar[str] = "The hold on {gauge} was lifted already, on {lifted_on}. Nothing was changed."


class LiftNotVerified(LabError):
    """Nobody has shown since that the gauge is good."""

    code: ClassVar[str] = "lift-not-verified"
    sentence: ClassVar[str] = (
        "{gauge} is on hold ({kind}) and has not been verified since. "
        "{next} first; the hold can be lifted then."
    )
    field: ClassVar[str | None] = "reason"


def put_hold(*, gauge: Gauge, kind: Hold.Kind, reason: str, source: str, by: Acting, now: datetime) -> Hold:
    """Write a hold inside the act that calls it, which then refreshes the standing."""
    row = Hold(
        gauge=gauge,
        kind=kind,
        reason=reason,
        source=source,
        since_at=now,
        set_by=by.as_actor().name,
        owed=kind in OWED,
    )
    row.full_clean(exclude=["lifted_at"])
    row.save()
    note(f"gauge:{gauge.pk}", reason=reason, after={"hold": row.pk, "kind": str(kind)})
    return row


@act("recall.set-hold")
def set_hold(
    *,
    gauge: Gauge,
    kind: Hold.Kind,
    reason: str,
    source: str = "",
    by: Acting,
    now: datetime,
) -> Hold:
    """Put a gauge on hold: from now on nobody may use it, until the hold is lifted with a reason."""
    require(by, HOLD_GAUGES)
    row = put_hold(gauge=gauge, kind=kind, reason=reason, source=source, by=by, now=now)
    refresh_standing(gauge, now)
    return row


@act("recall.lift-hold")
def lift_hold(*, hold: Hold, reason: str, by: Acting, now: datetime) -> Hold:
    """Lift a hold with a reason; raises HoldAlreadyLifted, or LiftNotVerified (17025, 6.4.4) where nothing shows
    that the gauge is good again.
    """
    require(by, RELEASE_GAUGES)
    row = Hold.objects.select_for_update(of=("self",)).select_related("gauge__tag").get(pk=hold.pk)
    subject = f"gauge:{row.gauge_id}"
    if row.lifted_at is not None:
        raise HoldAlreadyLifted(gauge=str(row.gauge), lifted_on=f"{row.lifted_at:%Y-%m-%d}", subject=subject)
    if not lift_is_verified(row, now):
        out = row.kind == Hold.Kind.OUT_OF_TOLERANCE
        what = "Calibrate it" if out else "Calibrate it or record a good check"
        raise LiftNotVerified(gauge=str(row.gauge), kind=row.get_kind_display(), next=what, subject=subject)
    row.lifted_at, row.lifted_by, row.lifted_reason = now, by.as_actor().name, reason
    row.full_clean()
    row.save(update_fields=["lifted_at", "lifted_by", "lifted_reason"])
    note(subject, reason=reason, before={"hold": row.pk}, after={"lifted": row.pk})
    refresh_standing(row.gauge, now)
    hold.refresh_from_db()
    return row
