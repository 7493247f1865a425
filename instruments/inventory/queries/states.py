"""Reads of the service state of one gauge."""

from __future__ import annotations

from datetime import datetime

from instruments.inventory.models import Gauge, GaugeState


def state_of(gauge: Gauge, at: datetime, known_at: datetime | None = None) -> str:
    """Give the service state in force at ``at`` (a value of GaugeState.State), "" before it was registered."""
    row: GaugeState | None = gauge.states.in_force(at, known_at)
    return "" if row is None else row.state
