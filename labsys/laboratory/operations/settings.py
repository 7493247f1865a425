"""Acts on what the laboratory is and can do: its details on documents, its bench hours. Rows from an instant on."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from labsys.journal.door import Acting, act, note
from labsys.journal.reasons import given
from labsys.journal.roles import require
from labsys.laboratory.access import MANAGE_LABORATORY
from labsys.laboratory.models import Capacity, LaboratoryDetail


@act("laboratory.set-capacity")
def set_capacity(
    *, hours_per_week: Decimal, valid_from: datetime, reason: str, by: Acting, now: datetime
) -> Capacity:
    """Record how many bench hours a week has, from an instant on."""
    require(by, MANAGE_LABORATORY)
    row = Capacity(
        hours_per_week=hours_per_week, valid_from=valid_from, recorded_at=now, reason=reason.strip()
    )
    row.full_clean()
    row.save()
    note("laboratory", reason=row.reason, after={"hours_per_week": hours_per_week, "valid_from": valid_from})
    return row


@act("laboratory.set-details")
def set_details(
    *,
    name: str,
    address: str,
    contact: str,
    second_signature: bool,
    reason: str,
    by: Acting,
    now: datetime,
) -> LaboratoryDetail:
    """Record what the laboratory calls itself on documents, and whether a second person must sign.

    Working with one signature is a decision with its reason: ReasonMissing without one.
    """
    require(by, MANAGE_LABORATORY)
    if not second_signature:
        given(reason, what="Working with one signature", subject="laboratory")
    row = LaboratoryDetail(
        name=name.strip(),
        address=address.strip(),
        contact=contact.strip(),
        second_signature=second_signature,
        decided_by=by.as_actor().name,
        reason=reason.strip(),
        valid_from=now,
        recorded_at=now,
    )
    row.full_clean()
    row.save()
    said = {"name": row.name, "address": row.address, "contact": row.contact}
    note("laboratory", reason=row.reason, after={**said, "second_signature": second_signature})
    return row
