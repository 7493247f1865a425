"""What is to be told today and to whom: things not told yet, sorted into one message per person.

Writes nothing. A thing is due once its day has come and no row says that it was told; so days on which nothing ran
are caught up with, and a sweep that runs twice finds nothing the second time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import CharField, Exists, OuterRef, QuerySet, Value
from django.db.models.functions import Cast, Concat

from instruments.inventory.models import Gauge, GaugeState
from instruments.recall.models import CallIn, GaugeStanding
from instruments.recall.queries import RECALL_RESTS
from instruments.reminders.models import Reminder

STAGES = (-30, -14, -7, -1, 0, 1, 7, 30)
"""Days after the due day on which a gauge is told about (common practice, no source)."""

About = Reminder.About


@dataclass(frozen=True)
class Thing:
    """One thing to be told: which gauge, what about it, the day it turns on, and what else was called in."""

    gauge: Gauge
    about: str
    on: date
    stage: int
    source: str = ""


def not_told(today: date) -> list[Thing]:
    """List the things whose day has come and that nobody was told, for a day of the laboratory."""
    return [*_due(today), *_call_ins(today)]


def recalled() -> QuerySet[GaugeStanding]:
    """Find the gauges that somebody has and must bring back: not here, not away, not stored, lost or scrapped."""
    rows = GaugeStanding.objects.exclude(state__in=(*RECALL_RESTS, GaugeState.State.AWAY))
    rows = rows.filter(in_laboratory=False, valid_until__isnull=False)
    return rows.select_related(
        "gauge__tag", "gauge__model__family", "gauge__department", "gauge__place", "gauge__custodian"
    )


def _due(today: date) -> Iterator[Thing]:
    for stage in STAGES:
        told = Reminder.objects.filter(
            gauge=OuterRef("gauge"), about=About.DUE, on=OuterRef("valid_until"), stage=stage
        )
        come = recalled().filter(valid_until__lte=today - timedelta(days=stage))
        for row in come.filter(~Exists(told)).order_by("valid_until", "pk"):
            if row.valid_until is not None:
                yield Thing(row.gauge, About.DUE, row.valid_until, stage)


def _call_ins(today: date) -> Iterator[Thing]:
    waiting = CallIn.objects.filter(answered_at=None, withdrawn_at=None).select_related(
        "gauge__tag", "gauge__model__family", "gauge__department", "gauge__place", "gauge__custodian"
    )
    named = waiting.annotate(name=Concat(Value("call-in:"), Cast("pk", CharField())))
    for about, rows in [
        (About.CALLED_IN, named),
        (About.NOT_PRESENTED, named.filter(bring_by__lt=today)),
    ]:
        told = Reminder.objects.filter(gauge=OuterRef("gauge"), about=about, source=OuterRef("name"))
        for row in rows.filter(~Exists(told)).order_by("bring_by", "pk"):
            yield Thing(row.gauge, about, row.bring_by, 0, f"call-in:{row.pk}")
