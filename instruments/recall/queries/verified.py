"""Whether a gauge was verified since something happened to it (17025, 6.4.4: before it goes back into service)."""

from __future__ import annotations

from datetime import datetime

from instruments.inventory.models import Gauge
from instruments.recall.models import CalibrationEvent, Hold, UseCheck
from instruments.recall.queries.facts import gather
from instruments.recall.queries.standing import passes, restricted_since
from labsys.laboratory.queries import local_date


def calibrated_since(gauge: Gauge, since: datetime, now: datetime) -> bool:
    """Say whether a calibration recorded since then left the gauge fit for use, or fit within a restriction."""
    facts = gather([gauge], now)[gauge.pk]
    event = facts.event
    if event is None or event.recorded_at < since or not (passes(event) or restricted_since(facts)):
        return False
    # A certificate from outside is older than the day it is recorded; a session here must have ended since.
    return event.source.startswith("outside:") or event.calibrated_on >= local_date(since)


def checked_since(gauge: Gauge, since: datetime, now: datetime) -> bool:
    """Say whether a good check was recorded since then, and no bad one after it."""
    rows = UseCheck.objects.filter(gauge=gauge, checked_at__gte=since, checked_at__lte=now)
    newest = rows.order_by("-checked_at", "-pk").first()
    return newest is not None and newest.good


def lift_is_verified(hold: Hold, now: datetime) -> bool:
    """Say whether what happened since the hold was set lets it be lifted.

    Out of tolerance: a calibration since, or the one that found it, adjusted and passing as left. Damage and failed
    checks: that, or a good check since. Other holds need no proof.
    """
    if hold.kind == Hold.Kind.OTHER or not hold.gauge.calibration_needed:
        return True
    if calibrated_since(hold.gauge, hold.since_at, now) or _by_itself(hold):
        return True
    return hold.kind != Hold.Kind.OUT_OF_TOLERANCE and checked_since(hold.gauge, hold.since_at, now)


def _by_itself(hold: Hold) -> bool:
    own = CalibrationEvent.objects.filter(source=hold.source).first() if hold.source else None
    return own is not None and passes(own)
