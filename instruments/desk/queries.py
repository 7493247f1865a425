"""Reads that span topics: gauges with their standing, and what each topic adds to the page of a gauge."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import F, QuerySet, Value
from django.db.models.functions import Coalesce

import instruments.certificates.queries as certificates
import instruments.inventory.queries as inventory
import instruments.measuring.queries as measuring
import instruments.recall.queries as recall
from instruments.inventory.models import Gauge
from instruments.recall.models import GaugeStanding
from labsys.accounts.models import Person
from labsys.laboratory.queries import local_date

NEVER = date(9999, 12, 31)
MOST_OWN = 200


def standing_as(rows: QuerySet[Gauge], word: str, today: date) -> QuerySet[Gauge]:
    """Narrow to gauges of which the floor is told ``word`` on ``today``."""
    found: QuerySet[Gauge] = recall.with_standing(rows, today).filter(word_today=word)
    return found


def with_due_key(rows: QuerySet[Gauge]) -> QuerySet[Gauge]:
    """Annotate gauges with ``due_key``, the last day of use, or a day that never comes; for an order without gaps."""
    return rows.annotate(due_key=Coalesce("standing__valid_until", Value(NEVER)))


def ordered(rows: QuerySet[Gauge], order: Sequence[str]) -> QuerySet[Gauge]:
    """Order gauges, and read with each what it is ordered by and nothing else; ``due_key`` is the last day of use.

    A sort carries along all that is asked for, so a list of a million gauges is sorted by keys, and ``shown`` reads
    the rest of the one page.
    """
    names = [name.removeprefix("-") for name in order]
    paths = {name.rpartition("__")[0] for name in names if "__" in name}
    columns = [name for name in names if name not in ("pk", "due_key")]
    if "due_key" in names:
        rows = with_due_key(rows)
    found = rows.order_by(*order).only("pk", *columns)
    return found.select_related(*paths) if paths else found


def shown(page: Iterable[Gauge], at: datetime) -> list[Gauge]:
    """Read all that a list shows of the gauges of one page, in the page's order: state and standing at ``at``."""
    keys = [gauge.pk for gauge in page]
    rows = inventory.with_state(inventory.gauges().select_related("standing"), at)
    found = {gauge.pk: gauge for gauge in rows.filter(pk__in=keys)}
    return [found[key] for key in keys if key in found]


@dataclass(frozen=True)
class OwnLine:
    """A gauge in somebody's keeping with what may be done with it today."""

    gauge: Gauge
    standing: recall.Standing


def own_gauges(person: Person, today: date) -> list[OwnLine]:
    """List the gauges in a person's keeping, what is due first at the head, what never is at the end."""
    rows = inventory.gauges().filter(custodian=person).select_related("standing")
    ordered_rows = rows.order_by(F("standing__valid_until").asc(nulls_last=True), "tag__text")
    return [OwnLine(gauge, standing_of(gauge, today)) for gauge in ordered_rows[:MOST_OWN]]


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
    Panel("measuring", measuring.panel),
    Panel("certificates", certificates.panel),
)


def panels(gauge: Gauge, at: datetime) -> list[tuple[str, dict[str, Any]]]:
    """Read what every topic adds to the page of a gauge as of ``at``: template and what it shows."""
    return [(panel.template, panel.read(gauge, at)) for panel in PANELS]
