"""Keeps the one row per gauge that says its standing. Every act that touches what it is derived from ends here."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from instruments.inventory.models import Gauge
from instruments.recall.models import GaugeStanding
from instruments.recall.queries.facts import gather
from instruments.recall.queries.standing import Derived, decide
from labsys.journal.models import JournalEntry

BATCH = 500
MOST_ENTRIES = 5000
_FIELDS = [field.name for field in GaugeStanding._meta.fields if not field.primary_key]


def refresh_standing(gauge: Gauge, now: datetime) -> GaugeStanding:
    """Derive the gauge's standing and keep it. Part of the act that calls it; writes no entry of its own."""
    refresh_standings([gauge.pk], now)
    return GaugeStanding.objects.get(pk=gauge.pk)


def refresh_standings(gauge_ids: Iterable[int], now: datetime) -> int:
    """Derive and keep the standings of many gauges, a batch at a time; gives how many rows changed."""
    ids = sorted(set(gauge_ids))
    return sum(_refresh_batch(ids[start : start + BATCH], now) for start in range(0, len(ids), BATCH))


def refresh_all(now: datetime) -> tuple[int, int]:
    """Derive every gauge's standing anew; gives how many gauges there are and how many rows were not right."""
    ids = list(Gauge.objects.values_list("pk", flat=True))
    return len(ids), refresh_standings(ids, now)


def follow_journal(after: int, now: datetime) -> tuple[int, int]:
    """Refresh the gauges that entries after number ``after`` are about; gives the last number read and the changes.

    So an act of the inventory, which knows no standing, shows within a minute. Entries become visible in the order
    of their numbers, as each outermost act holds the journal's head, so none is overtaken.
    """
    entries = JournalEntry.objects.filter(sequence__gt=after).order_by("sequence")
    rows = list(entries.values_list("sequence", "subject")[:MOST_ENTRIES])
    if not rows:
        return after, 0
    named = {subject.removeprefix("gauge:") for _, subject in rows if subject.startswith("gauge:")}
    ids = Gauge.objects.filter(pk__in=[int(text) for text in named if text.isdigit()])
    return rows[-1][0], refresh_standings(ids.values_list("pk", flat=True), now)


def _refresh_batch(ids: list[int], now: datetime) -> int:
    with transaction.atomic():
        # Locked before the facts are read: of two acts on one gauge the later one sees what the earlier one wrote.
        # A weak lock, as rows that point at the gauge are inserted meanwhile.
        locked = Gauge.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=ids).order_by("pk")
        gauges = list(locked)
        kept = {row.pk: row for row in GaugeStanding.objects.filter(pk__in=ids)}
        derived = {pk: decide(facts) for pk, facts in gather(gauges, now).items()}
        changed = [
            GaugeStanding(gauge_id=pk, derived_at=now, **vars(answer))
            for pk, answer in derived.items()
            if pk not in kept or _differs(kept[pk], answer)
        ]
        GaugeStanding.objects.bulk_create(
            changed, update_conflicts=True, unique_fields=["gauge"], update_fields=_FIELDS
        )
    return len(changed)


def _differs(row: GaugeStanding, answer: Derived) -> bool:
    return any(getattr(row, name) != value for name, value in vars(answer).items())
