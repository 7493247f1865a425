"""What stops the bench, whom it waits for and since when. Higher topics add what they know by registering a source."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Exists, OuterRef, Q
from django.urls import reverse

from instruments.inventory.models import CustodyEvent, Gauge, GaugeState
from instruments.recall.models import GaugeStanding, Hold, OutsideCertificate
from labsys.laboratory.queries import local_date, start_of_day
from standards.register.models import StandardState
from standards.register.queries import overdue, standards

MOST = 200
"""Of each kind at most this many are listed; the page says when there are more."""


@dataclass(frozen=True)
class Waiting:
    """One thing that waits: what it is, for whom or what, since when (None: unknown), and its page."""

    what: str
    waits_for: str
    since_at: datetime | None
    url: str = ""

    @property
    def since_on(self) -> date | None:
        """Give the day of the laboratory since when it waits."""
        return local_date(self.since_at) if self.since_at else None


Source = Callable[[datetime], Iterable[Waiting]]
_sources: dict[str, Source] = {}


def register_waiting(name: str, source: Source) -> None:
    """Let a higher topic add what waits there; the same name again replaces it. Called once, at start."""
    _sources[name] = source


def waiting(now: datetime) -> list[Waiting]:
    """List what waits, the longest first, what has no date at the end."""
    found = [*_custody(), *_away(), *_holds(), *_outside(), *_standards(now)]
    for source in _sources.values():
        found.extend(source(now))
    return sorted(found, key=lambda one: (one.since_at is None, one.since_at, one.what))


def _url(gauge_id: int) -> str:
    return reverse("gauge", args=[gauge_id])


def _custody() -> Iterable[Waiting]:
    same = Q(at=OuterRef("at"), pk__gt=OuterRef("pk"))
    later = CustodyEvent.objects.filter(Q(at__gt=OuterRef("at")) | same, gauge=OuterRef("gauge"))
    rows = CustodyEvent.objects.filter(~Exists(later), kind=CustodyEvent.Kind.WAITING)
    for row in rows.select_related("gauge__tag").order_by("at")[:MOST]:
        yield Waiting(str(row.gauge), row.get_waits_for_display(), row.at, _url(row.gauge_id))


def _away() -> Iterable[Waiting]:
    away = GaugeStanding.objects.filter(state=GaugeState.State.AWAY).values("pk")
    gauges = Gauge.objects.filter(pk__in=away).select_related("tag")[:MOST]
    since = {
        row.gauge_id: row.valid_from
        for row in GaugeState.objects.filter(gauge__in=[g.pk for g in gauges]).order_by("valid_from", "pk")
    }
    for gauge in gauges:
        yield Waiting(str(gauge), "an outside laboratory", since.get(gauge.pk), _url(gauge.pk))


def _holds() -> Iterable[Waiting]:
    for hold in Hold.objects.filter(lifted_at=None).select_related("gauge__tag").order_by("since_at")[:MOST]:
        what = f"{hold.gauge}, {hold.get_kind_display()}"
        yield Waiting(what, "a decision on its hold", hold.since_at, _url(hold.gauge_id))


def _outside() -> Iterable[Waiting]:
    open_ones = OutsideCertificate.objects.filter(accepted_at=None, rejected_at=None)
    for row in open_ones.select_related("gauge__tag").order_by("received_at")[:MOST]:
        url = reverse("outside-certificate", args=[row.pk])
        yield Waiting(
            f"{row.gauge}, certificate {row.number}", "a review of the certificate", row.received_at, url
        )


def _standards(now: datetime) -> Iterable[Waiting]:
    for due in overdue(local_date(now)):
        url = reverse("standard", args=[due.standard.pk])
        what, since = f"{due.standard}, overdue", start_of_day(due.due_on)
        yield Waiting(what, "a calibration of the standard", since, url)
    for row in standards(now).filter(state_at=StandardState.State.AWAY).order_by("tag__text")[:MOST]:
        state: StandardState | None = StandardState.objects.filter(standard=row).in_force(now)
        since_at = state.valid_from if state else None
        yield Waiting(str(row), "an outside laboratory", since_at, reverse("standard", args=[row.pk]))
