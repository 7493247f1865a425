"""Acts on custody: one step after another of a gauge's way through the laboratory."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from instruments.inventory.access import RECORD_CUSTODY
from instruments.inventory.models import CustodyEvent, Gauge
from instruments.inventory.queries.custody import received_at, whereabouts
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS
from labsys.journal.door import act, note
from labsys.journal.roles import require
from labsys.laboratory.models import Place
from labsys.laboratory.queries import zone

Kind = CustodyEvent.Kind
IN_THE_LABORATORY = (Kind.CLEANED, Kind.SOAKING, Kind.ON_BENCH, Kind.WAITING, Kind.RELEASED, Kind.RETURNED)


class InTheFuture(LabError, ValueError):
    """A step that hasn't happened yet."""

    code: ClassVar[str] = "custody-in-the-future"
    sentence: ClassVar[str] = (
        "{tag}: “{kind}” is given for {at}, and it is {now}. Record it when it has happened, or correct the time."
    )
    field: ClassVar[str | None] = "at"


class BeforeTheLastEvent(LabError, ValueError):
    """A step that would lie before one already on record."""

    code: ClassVar[str] = "custody-before-the-last-event"
    sentence: ClassVar[str] = (
        "{tag}: “{kind}” is given for {at}, but “{last_kind}” is on record for {last_at}. "
        "A step can't be put before one that stands; give a time from {last_at} on."
    )
    field: ClassVar[str | None] = "at"


class NotInTheLaboratory(LabError, ValueError):
    """A step inside the laboratory, for a gauge that isn't there."""

    code: ClassVar[str] = "not-in-the-laboratory"
    sentence: ClassVar[str] = (
        "{tag} hasn't been received, so it can't be “{kind}”. Record that it was received, with its condition, first."
    )
    field: ClassVar[str | None] = "kind"


class AlreadyReceived(LabError, ValueError):
    """A gauge that is in the laboratory can't be received again."""

    code: ClassVar[str] = "already-received"
    sentence: ClassVar[str] = (
        "{tag} was received on {since} and hasn't left since. Record that it was returned first, if it was."
    )
    field: ClassVar[str | None] = "kind"


class ConditionMissing(LabError, ValueError):
    """A gauge is received with the condition it arrived in."""

    code: ClassVar[str] = "condition-missing"
    sentence: ClassVar[str] = (
        "Say in which condition {tag} arrived: clean and complete, dirty, damaged where. "
        "Later nobody can tell what happened before and what after."
    )
    field: ClassVar[str | None] = "condition"


class WaitsForWhat(LabError, ValueError):
    """Waiting names what is waited for, and nothing else does."""

    code: ClassVar[str] = "waits-for-what"
    sentence: ClassVar[str] = (
        "{tag}: a gauge that waits, waits for a part, a standard, the reviewer or the owner; "
        "with any other step nothing is waited for. Found “{kind}” and “{waits_for}”."
    )
    field: ClassVar[str | None] = "waits_for"


class NotYourGauge(LabError, PermissionError):
    """Somebody of the floor handed over a gauge that isn't in their care."""

    code: ClassVar[str] = "not-your-gauge"
    sentence: ClassVar[str] = (
        "{tag} is in the care of {custodian}. Only its custodian or the laboratory records what happens to it."
    )


@dataclass(frozen=True)
class Condition:
    """What was seen of a gauge at a step of its way."""

    text: str
    damaged: bool = False


@act("inventory.record-custody")
def record_custody(
    *,
    gauge: Gauge,
    kind: str,
    place: Place | None = None,
    condition: Condition | str = "",
    waits_for: str = "",
    at: datetime,
    by: Person,
    now: datetime,
) -> CustodyEvent:
    """Record a step of a gauge's way, at an instant that is neither to come nor before the last step.

    A text as ``condition`` is one without damage.
    Raises InTheFuture, BeforeTheLastEvent, NotInTheLaboratory, AlreadyReceived, ConditionMissing, WaitsForWhat,
    NotYourGauge (the floor hands over its own gauges and nothing else).
    """
    require(by, RECORD_CUSTODY)
    seen = Condition(condition) if isinstance(condition, str) else condition
    Gauge.objects.select_for_update().get(pk=gauge.pk)  # steps of one gauge come one after another
    row = CustodyEvent(
        gauge=gauge,
        kind=kind,
        at=at,
        recorded_at=now,
        by=by,
        place=place,
        condition=seen.text.strip(),
        damaged=seen.damaged,
        waits_for=waits_for,
    )
    row.full_clean()
    _refuse_stranger(row)
    _refuse_time(row)
    _refuse_order(row)
    _refuse_gaps(row)
    row.save()
    note(f"gauge:{gauge.pk}", after=_described(row))
    return row


def _refuse_stranger(row: CustodyEvent) -> None:
    """Let the floor hand over what is in its own care, and nothing else."""
    if row.by.may(READ_RECORDS) or (row.kind == Kind.HANDED_OVER and row.gauge.custodian_id == row.by_id):
        return
    custodian = row.gauge.custodian.name if row.gauge.custodian else "nobody on record"
    raise NotYourGauge(tag=row.gauge.tag.text, custodian=custodian, subject=f"gauge:{row.gauge_id}")


def _refuse_time(row: CustodyEvent) -> None:
    facts = {
        "tag": row.gauge.tag.text,
        "kind": row.get_kind_display(),
        "at": _shown(row.at),
        "subject": f"gauge:{row.gauge_id}",
    }
    if row.at > row.recorded_at:
        raise InTheFuture(now=_shown(row.recorded_at), **facts)
    last = whereabouts(row.gauge)
    if last is not None and row.at < last.at:
        raise BeforeTheLastEvent(last_kind=last.get_kind_display(), last_at=_shown(last.at), **facts)


def _refuse_order(row: CustodyEvent) -> None:
    since = received_at(row.gauge)
    tag, subject = row.gauge.tag.text, f"gauge:{row.gauge_id}"
    if since is None and row.kind in IN_THE_LABORATORY:
        raise NotInTheLaboratory(tag=tag, kind=row.get_kind_display(), subject=subject)
    if since is not None and row.kind == Kind.RECEIVED:
        raise AlreadyReceived(tag=tag, since=_shown(since), subject=subject)


def _refuse_gaps(row: CustodyEvent) -> None:
    tag, subject = row.gauge.tag.text, f"gauge:{row.gauge_id}"
    if row.kind == Kind.RECEIVED and not row.condition:
        raise ConditionMissing(tag=tag, subject=subject)
    if (row.kind == Kind.WAITING) != bool(row.waits_for):
        waits_for = row.get_waits_for_display()
        raise WaitsForWhat(tag=tag, kind=row.get_kind_display(), waits_for=waits_for, subject=subject)


def _described(row: CustodyEvent) -> dict[str, object]:
    return {
        "custody": row.kind,
        "at": row.at,
        "place": row.place.name if row.place else "",
        "condition": row.condition,
        "damaged": row.damaged,
        "waits_for": row.waits_for,
    }


def _shown(at: datetime) -> str:
    return f"{at.astimezone(zone()):%Y-%m-%d %H:%M}"
