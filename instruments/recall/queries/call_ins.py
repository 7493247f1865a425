"""Which gauges are called in, and which of those chosen could be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from instruments.inventory.models import Gauge, GaugeState
from instruments.recall.models import CallIn, GaugeStanding

_NOT_CALLED = {
    GaugeState.State.LOST: "is lost",
    GaugeState.State.SCRAPPED: "is scrapped",
    GaugeState.State.AWAY: "is at an outside laboratory",
}


@dataclass(frozen=True)
class Skipped:
    """A gauge that can't be called in, and why."""

    gauge: Gauge
    sentence: str


@dataclass(frozen=True)
class CallInPlan:
    """What a bulk call-in would do: to how many, and whom it would leave out."""

    callable: tuple[Gauge, ...]
    skipped: tuple[Skipped, ...]


def open_call_ins() -> QuerySet[CallIn]:
    """Find the call-ins that wait for their gauge, the earliest first."""
    rows = CallIn.objects.filter(answered_at=None, withdrawn_at=None)
    return rows.select_related("gauge__tag", "gauge__model__family", "gauge__department").order_by(
        "bring_by", "pk"
    )


def not_presented(today: date) -> QuerySet[CallIn]:
    """Find the call-ins whose day has gone and whose gauge hasn't come."""
    return open_call_ins().filter(bring_by__lt=today)


def call_in_plan(gauges: Sequence[Gauge]) -> CallInPlan:
    """Sort the chosen gauges into those that can be called in and those that can't, each with its sentence."""
    ids = [gauge.pk for gauge in gauges]
    called = dict(open_call_ins().filter(gauge__in=ids).values_list("gauge", "bring_by"))
    standings = GaugeStanding.objects.in_bulk(ids)
    skipped, free = [], []
    for gauge in gauges:
        why = _why_not(gauge, called.get(gauge.pk), standings.get(gauge.pk))
        if why:
            skipped.append(Skipped(gauge, f"{gauge} {why}."))
        else:
            free.append(gauge)
    return CallInPlan(tuple(free), tuple(skipped))


def _why_not(gauge: Gauge, bring_by: date | None, row: GaugeStanding | None) -> str:
    if bring_by is not None:
        return f"is called in already, by {bring_by:%Y-%m-%d}"
    if row is None:
        return ""
    if row.in_laboratory:
        return "is in the laboratory already"
    return next((why for state, why in _NOT_CALLED.items() if row.state == state), "")
