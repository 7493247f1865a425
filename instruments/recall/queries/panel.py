"""What recall adds to the page of a gauge, as of an instant."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Q

from instruments.inventory.models import Gauge
from instruments.recall.models import CalibrationEvent, CallIn, OutsideCertificate
from instruments.recall.queries.due import months_for
from instruments.recall.queries.facts import gather
from instruments.recall.queries.standing import decide

MOST = 20


def panel(gauge: Gauge, at: datetime) -> dict[str, Any]:
    """Read the calibrations, due date, interval, holds, restriction and call-in of a gauge as of ``at``."""
    facts = gather([gauge], at)[gauge.pk]
    derived = decide(facts)
    events = CalibrationEvent.objects.filter(gauge=gauge, recorded_at__lte=at)
    answered = Q(answered_at=None) | Q(answered_at__gt=at)
    withdrawn = Q(withdrawn_at=None) | Q(withdrawn_at__gt=at)
    outside = OutsideCertificate.objects.filter(gauge=gauge, received_at__lte=at).order_by("-received_at")
    assigned = facts.intervals[0].months if facts.intervals else None
    return {
        "events": events.select_related("extension")[:MOST],
        "due_on": derived.valid_until,
        "master_until": derived.master_until,
        "master_named": derived.master_named,
        "months": months_for(facts),
        "months_next": assigned or gauge.model.family.default_interval_months,
        "extension": facts.extension,
        "first_due_on": facts.event.due_on if facts.event else None,
        "holds": facts.holds,
        "restriction": facts.restriction,
        "in_laboratory": facts.received_at is not None,
        "call_in": CallIn.objects.filter(answered, withdrawn, gauge=gauge, called_at__lte=at).first(),
        "outside": outside[:MOST],
    }
