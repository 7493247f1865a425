"""Reads that span topics: gauges with their standing, and what each topic adds to the page of a gauge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet, Value
from django.db.models.functions import Coalesce

import instruments.certificates.queries as certificates
import instruments.inventory.queries as inventory
import instruments.recall.queries as recall
from instruments.inventory.models import Gauge
from instruments.recall.models import GaugeStanding
from labsys.laboratory.queries import local_date

NEVER = date(9999, 12, 31)


def listed(at: datetime) -> QuerySet[Gauge]:
    """Give all gauges with state and standing at ``at``, and ``due_key`` to order by: the last day of use, or never."""
    rows = inventory.with_state(inventory.gauges().select_related("standing"), at)
    rows = recall.with_standing(rows, local_date(at))
    return rows.annotate(due_key=Coalesce("standing__valid_until", Value(NEVER)))


def standing_of(gauge: Gauge, today: date) -> recall.Standing:
    """Give what may be done with a listed gauge on ``today``, from the row that came with it."""
    return recall.read(getattr(gauge, "standing", None), today)


def standing_at(gauge: Gauge, at: datetime) -> recall.Standing:
    """Derive what was to be done with a gauge on the day of ``at``, from the facts on record by then."""
    derived = recall.derive(gauge, at)
    return recall.read(GaugeStanding(gauge=gauge, derived_at=at, **vars(derived)), local_date(at))


@dataclass(frozen=True)
class Panel:
    """What one topic adds to the page of a gauge: a read of it as of an instant, and the template that shows it."""

    topic: str
    read: Callable[[Gauge, datetime], dict[str, Any]]

    @property
    def template(self) -> str:
        """Name the topic's template."""
        return f"instruments/{self.topic}/panel.html"


# In the order in which they stand on the page. A topic with a page of its own adds its line here.
PANELS = (
    Panel("inventory", inventory.panel),
    Panel("recall", recall.panel),
    Panel("certificates", certificates.panel),
)


def panels(gauge: Gauge, at: datetime) -> list[tuple[str, dict[str, Any]]]:
    """Read what every topic adds to the page of a gauge as of ``at``: template and what it shows."""
    return [(panel.template, panel.read(gauge, at)) for panel in PANELS]
