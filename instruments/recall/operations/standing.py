"""Keeps the one row per gauge that says its standing. Every act that touches what it is derived from ends here."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from instruments.inventory.models import Gauge
from instruments.inventory.queries import all_set_with, set_with
from instruments.recall.models import GaugeStanding
from instruments.recall.queries.facts import gather
from instruments.recall.queries.standing import Derived, decide
from labsys.journal.models import JournalEntry

BATCH = 500
MOST_ENTRIES = 5000
_FIELDS = [field.name for field in GaugeStanding._meta.fields if not field.primary_key]


def refresh_standing(gauge: Gauge, now: datetime) -> GaugeStanding:
    """Derive the gauge's standing and those of the gauges set with it, and keep them.

    Part of the act that calls it; writes no entry of its own.
    """
    with transaction.atomic():
        gauges, seen, ask = list[Gauge](), {gauge.pk}, {gauge.pk}
        while ask:
            # The master is locked before it is asked what is set with it: who pairs it locks it too, so that of a
            # pairing and a hold in the same moment the later one sees the earlier one. Always from master to gauge.
            gauges.extend(_lock(ask))
            ask = set_with(ask, now) - seen
            seen |= ask
        _keep(gauges, now)
    return GaugeStanding.objects.get(pk=gauge.pk)


def refresh_standings(gauge_ids: Iterable[int], now: datetime) -> int:
    """Derive and keep the standings of many gauges, a batch at a time; gives how many rows changed.

    A gauge that an act holds just now is left for last and then waited for alone: the act may itself be waiting for
    another gauge of the batch.
    """
    ids = sorted(set(gauge_ids))
    changed = 0
    for start in range(0, len(ids), BATCH):
        batch = ids[start : start + BATCH]
        with transaction.atomic():
            free = _lock(batch, skip_locked=True)
            changed += _keep(free, now)
        for left in sorted(set(batch) - {gauge.pk for gauge in free}):
            with transaction.atomic():
                changed += _keep(_lock([left]), now)
    return changed


def refresh_all(now: datetime) -> tuple[int, int]:
    """Derive every gauge's standing anew; gives how many gauges there are and how many rows were not right."""
    ids = list(Gauge.objects.values_list("pk", flat=True))
    return len(ids), refresh_standings(ids, now)


def follow_journal(after: int, now: datetime) -> tuple[int, int]:
    """Refresh the gauges that entries after number ``after`` are about, and the gauges set with those.

    Gives the last number read and how many rows changed.

    So an act of the inventory, which knows no standing, shows within a minute. Entries become visible in the order
    of their numbers, as each outermost act holds the journal's head, so none is overtaken.
    """
    entries = JournalEntry.objects.filter(sequence__gt=after).order_by("sequence")
    rows = list(entries.values_list("sequence", "subject")[:MOST_ENTRIES])
    if not rows:
        return after, 0
    named = {subject.removeprefix("gauge:") for _, subject in rows if subject.startswith("gauge:")}
    asked = Gauge.objects.filter(pk__in=[int(text) for text in named if text.isdigit()])
    ids = set(asked.values_list("pk", flat=True))
    return rows[-1][0], refresh_standings(ids | all_set_with(ids, now), now)


def _lock(ids: Iterable[int], *, skip_locked: bool = False) -> list[Gauge]:
    """Lock gauges before their facts are read: of two acts on one gauge the later sees what the earlier one wrote.

    A weak lock, as rows that point at the gauge are inserted meanwhile.
    """
    rows = Gauge.objects.select_for_update(of=("self",), no_key=True, skip_locked=skip_locked)
    return list(rows.filter(pk__in=list(ids)).order_by("pk"))


def _keep(gauges: list[Gauge], now: datetime) -> int:
    kept = GaugeStanding.objects.in_bulk([gauge.pk for gauge in gauges])
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
