"""Reads of custody: where a gauge is, and since when the laboratory has it."""

from __future__ import annotations

from datetime import datetime

from django.db.models import QuerySet

from instruments.inventory.models import CustodyEvent, Gauge

Kind = CustodyEvent.Kind
LEAVES = (Kind.RETURNED, Kind.HANDED_OVER)


def events(gauge: Gauge, at: datetime | None = None) -> QuerySet[CustodyEvent]:
    """Find the steps of a gauge's way up to ``at`` (all of them without it), newest first."""
    rows = gauge.custody.select_related("by", "place")
    return rows if at is None else rows.filter(at__lte=at, recorded_at__lte=at)


def whereabouts(gauge: Gauge, at: datetime | None = None) -> CustodyEvent | None:
    """Find the last step of a gauge's way, up to ``at`` where given; None when none was recorded."""
    return events(gauge, at).first()


def received_at(gauge: Gauge, at: datetime | None = None) -> datetime | None:
    """Give the instant the laboratory received the gauge it still has; None when it isn't in the laboratory."""
    turning = events(gauge, at).filter(kind__in=(Kind.RECEIVED, *LEAVES)).first()
    return turning.at if turning is not None and turning.kind == Kind.RECEIVED else None
