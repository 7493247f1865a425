"""What the inventory adds to the page of a gauge: limits, the way through the laboratory, set and setting master."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from instruments.inventory.models import Gauge, Member, Pairing
from instruments.inventory.queries.custody import events
from instruments.inventory.queries.limits import limits_for, shown
from instruments.inventory.queries.pairs import open_pairs
from labsys.laboratory.queries import local_date

STEPS = 20


def panel(gauge: Gauge, at: datetime) -> dict[str, Any]:
    """Give the inventory's part of a gauge's page as of ``at``."""
    limits = limits_for(gauge, at)
    steps = list(events(gauge, at).prefetch_related("photos")[: STEPS + 1])
    return {
        "limits": limits,
        "limit_rows": shown(limits, gauge.model.quantity),
        "custody": steps[:STEPS],
        "custody_more": len(steps) > STEPS,
        "members": members(gauge, at),
        "pairings": list(_joined(at).filter(gauge=gauge)),
        "serves": list(_joined(at).filter(master=gauge)),
    }


def members(gauge: Gauge, at: datetime) -> list[Member]:
    """List the members of a set as they were at ``at``; one withdrawn later is shown as in use, unsaved."""
    found = list(gauge.members.filter(added_at__lte=at))
    day = local_date(at)
    for member in found:
        if member.withdrawn_on is not None and member.withdrawn_on > day:
            member.withdrawn_on, member.withdrawn_reason = None, ""
    return found


def _joined(at: datetime) -> QuerySet[Pairing]:
    return open_pairs(at).select_related("gauge__tag", "master__tag")
