"""Reads of pairs: which setting masters stand behind gauges, and which gauges are set with a master.

All steps are followed: a master may be paired itself, and what may not be used at the end of such a chain may not be
used at its beginning. A walk never enters a gauge twice, so that a loop among old rows ends it instead of it going on.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from instruments.inventory.models import Pairing


@dataclass(frozen=True)
class MasterStep:
    """A setting master behind a gauge; ``is_own`` where the gauge itself is paired with it, not its master."""

    gauge_id: int
    tag: str
    is_own: bool


def open_pairs(at: datetime) -> QuerySet[Pairing]:
    """Find the pairs that belong together at ``at``, the oldest first; one that was parted by then isn't one."""
    rows = Pairing.objects.filter(Q(ended_at=None) | Q(ended_at__gt=at), paired_at__lte=at)
    return rows.order_by("paired_at", "pk")


def masters_of(gauge_ids: Iterable[int], at: datetime) -> dict[int, list[MasterStep]]:
    """Find the masters behind each gauge, the nearest first; gauges without one are left out.

    One query where nothing is paired, one more for each step of the longest chain.
    """
    asked = set(gauge_ids)
    links: dict[int, list[tuple[int, str]]] = defaultdict(list)
    ask, seen = asked, set(asked)
    while ask:
        rows = open_pairs(at).filter(gauge__in=ask).values_list("gauge_id", "master_id", "master__tag__text")
        for gauge_id, master_id, tag in rows:
            links[gauge_id].append((master_id, tag))
        ask = {master_id for gauge_id in ask for master_id, _ in links.get(gauge_id, ())} - seen
        seen |= ask
    return {gauge_id: _walk(gauge_id, links) for gauge_id in asked if gauge_id in links}


def _walk(gauge_id: int, links: dict[int, list[tuple[int, str]]]) -> list[MasterStep]:
    seen, level, found = {gauge_id}, [gauge_id], list[MasterStep]()
    while level:
        ahead = []
        for one in level:
            for master_id, tag in links.get(one, ()):
                if master_id not in seen:
                    seen.add(master_id)
                    ahead.append(master_id)
                    found.append(MasterStep(master_id, tag, is_own=one == gauge_id))
        level = ahead
    return found


def set_with(master_ids: Iterable[int], at: datetime) -> set[int]:
    """Find the gauges that are paired with one of these as their master: one step, one query."""
    return set(open_pairs(at).filter(master__in=list(master_ids)).values_list("gauge_id", flat=True))


def all_set_with(master_ids: Iterable[int], at: datetime) -> set[int]:
    """Find all gauges behind which one of these stands, over however many steps; without these themselves."""
    start = set(master_ids)
    seen, ask = set(start), start
    while ask:
        ask = set_with(ask, at) - seen
        seen |= ask
    return seen - start
