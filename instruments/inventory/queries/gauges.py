"""Reads of many gauges: the list with what it shows, and the service state in SQL."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from instruments.inventory.models import Gauge, GaugeState
from labsys.laboratory.queries import called

# From this many rows on a state counts as common.
COMMON = 10_000


def gauges() -> QuerySet[Gauge]:
    """Give all gauges with what a list shows of them, read in one query; by tag."""
    return Gauge.objects.select_related("tag", "model__family", "department", "custodian", "place")


def by_tag(text: str) -> Gauge | None:
    """Find the gauge that carries a tag, whatever its capitals; None when no gauge does."""
    return called(gauges(), text).first()


def with_state(rows: QuerySet[Gauge], at: datetime) -> QuerySet[Gauge]:
    """Annotate each gauge with ``state_now``, its service state at ``at``; equals ``state_of``."""
    return rows.annotate(state_now=_state(at))


def _state(at: datetime) -> Subquery:
    return Subquery(GaugeState.objects.filter(gauge=OuterRef("pk")).as_of(at).values("state")[:1])


def in_state(rows: QuerySet[Gauge], state: str, at: datetime) -> QuerySet[Gauge]:
    """Narrow to the gauges in a service state at ``at``.

    A rare state is found from its own rows by their index; a common one is asked of each gauge in turn, which a list
    stops doing as soon as its page is full.
    """
    if GaugeState.objects.filter(state=state)[: COMMON + 1].count() > COMMON:
        return rows.alias(state_then=_state(at)).filter(state_then=state)
    known = Q(valid_from__lte=at, recorded_at__lte=at)
    later = GaugeState.objects.filter(known, gauge=OuterRef("gauge")).filter(
        Q(valid_from__gt=OuterRef("valid_from"))
        | Q(valid_from=OuterRef("valid_from"), recorded_at__gt=OuterRef("recorded_at"))
        | Q(valid_from=OuterRef("valid_from"), recorded_at=OuterRef("recorded_at"), pk__gt=OuterRef("pk"))
    )
    last = GaugeState.objects.filter(known, ~Exists(later), state=state)
    return rows.filter(pk__in=last.values("gauge"))
