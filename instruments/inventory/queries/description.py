"""What is written about a gauge, now and as of an instant: the journal's before and after are the only history."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from instruments.inventory.models import Gauge
from labsys.journal.models import JournalEntry
from labsys.journal.queries import about

CHANGES = ("inventory.change-gauge", "inventory.set-photo", "inventory.remove-photo")


def describe(gauge: Gauge) -> dict[str, Any]:
    """Write the descriptive fields as the journal keeps them and a page shows them: plain text, true or false."""
    return {
        "tag": gauge.tag.text,
        "model": str(gauge.model),
        "family": gauge.model.family.name,
        "serial": gauge.serial,
        "department": gauge.department.name,
        "place": gauge.place.name,
        "custodian": gauge.custodian.name if gauge.custodian else "",
        "owner": gauge.owner,
        "owner_name": gauge.owner_name,
        "functions": list(gauge.functions),
        "calibration_needed": gauge.calibration_needed,
        "no_calibration_reason": gauge.no_calibration_reason,
        "check_before_use": gauge.check_before_use,
        "note": gauge.note,
        "photo": gauge.photo.name or "",
    }


def description_at(gauge: Gauge, at: datetime) -> dict[str, Any] | None:
    """Give the descriptive fields as they stood at ``at``: today's, with every later change taken back.

    None when the gauge wasn't registered yet.
    """
    if gauge.registered_at > at:
        return None
    fields = describe(gauge)
    later = about(f"gauge:{gauge.pk}").filter(at__gt=at, act__in=CHANGES, outcome=JournalEntry.Outcome.DONE)
    for entry in later.order_by("-sequence"):
        fields.update(entry.before or {})
    return fields
