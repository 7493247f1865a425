"""What a standing is derived from, read for many gauges at once and as of any instant."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import Q, QuerySet

from instruments.inventory.models import CustodyEvent, Gauge, GaugeState, Member
from instruments.inventory.queries import MasterStep, masters_of
from instruments.recall.models import (
    CalibrationEvent,
    Extension,
    Hold,
    IntervalAssignment,
    Restriction,
    UseCheck,
)
from labsys.laboratory.queries import local_date

# A gauge is in the laboratory from its receipt until one of the others.
_CAME_OR_WENT = (
    CustodyEvent.Kind.RECEIVED,
    CustodyEvent.Kind.RETURNED,
    CustodyEvent.Kind.HANDED_OVER,
)


@dataclass
class Facts:
    """Everything about one gauge that its standing depends on, as of one instant."""

    gauge: Gauge
    on: date
    state: str = GaugeState.State.NEW
    received_at: datetime | None = None
    event: CalibrationEvent | None = None
    extension: Extension | None = None
    intervals: list[IntervalAssignment] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)
    restriction: Restriction | None = None
    withdrawn_members: list[str] = field(default_factory=list)
    checked_on: date | None = None
    masters: list[Master] = field(default_factory=list)


@dataclass(frozen=True)
class Master:
    """A setting master behind a gauge, and the facts about it."""

    step: MasterStep
    facts: Facts

    @property
    def named(self) -> str:
        """Name it inside a sentence about the gauge: "its setting master R-0012"."""
        if self.step.is_own:
            return f"its setting master {self.step.tag}"
        return f"{self.step.tag}, with which its setting master is set,"


def gather(gauges: Sequence[Gauge], at: datetime) -> dict[int, Facts]:
    """Read the facts about ``gauges`` as they were at ``at``, by primary key, and about the masters behind them.

    Eleven queries however many gauges; where some are paired, one for their masters and one for each step of a chain.
    """
    found = {gauge.pk: Facts(gauge, local_date(at)) for gauge in gauges}
    behind = masters_of(found, at)
    more = {step.gauge_id for steps in behind.values() for step in steps} - found.keys()
    masters = Gauge.objects.filter(pk__in=more).select_related("tag") if more else ()
    everyone = {**found, **{master.pk: Facts(master, local_date(at)) for master in masters}}
    _fill(everyone, at)
    for gauge_id, steps in behind.items():
        found[gauge_id].masters = [Master(step, everyone[step.gauge_id]) for step in steps]
    return found


def _fill(found: dict[int, Facts], at: datetime) -> None:
    ids = list(found)
    _states(found, ids, at)
    _calibrations(found, ids, at)
    _limits_of_use(found, ids, at)
    _custody(found, ids, at)
    checks = UseCheck.objects.filter(gauge__in=ids, good=True, checked_at__lte=at).order_by("-checked_at")
    for gauge_id, check in _first(checks):
        found[gauge_id].checked_on = check.checked_on


def _first(rows: Iterable[Any]) -> Iterable[tuple[int, Any]]:
    """Give the first row of each gauge, in the order of ``rows``."""
    seen: set[int] = set()
    for row in rows:
        if row.gauge_id not in seen:
            seen.add(row.gauge_id)
            yield row.gauge_id, row


def _states(found: dict[int, Facts], ids: list[int], at: datetime) -> None:
    for gauge_id, state in _first(GaugeState.objects.filter(gauge__in=ids).as_of(at)):
        found[gauge_id].state = state.state


def _calibrations(found: dict[int, Facts], ids: list[int], at: datetime) -> None:
    events: QuerySet[CalibrationEvent] = CalibrationEvent.objects.filter(gauge__in=ids, recorded_at__lte=at)
    newest = dict(_first(events.order_by("-calibrated_on", "-pk")))
    by_event = {event.pk: gauge_id for gauge_id, event in newest.items()}
    for gauge_id, event in newest.items():
        found[gauge_id].event = event
    for extension in Extension.objects.filter(event__in=by_event, approved_at__lte=at):
        found[by_event[extension.event_id]].extension = extension
    for assignment in IntervalAssignment.objects.filter(gauge__in=ids).as_of(at):
        found[assignment.gauge_id].intervals.append(assignment)


def _limits_of_use(found: dict[int, Facts], ids: list[int], at: datetime) -> None:
    still = Q(lifted_at=None) | Q(lifted_at__gt=at)
    for hold in Hold.objects.filter(still, gauge__in=ids, since_at__lte=at).order_by("since_at"):
        found[hold.gauge_id].holds.append(hold)
    for gauge_id, restriction in _first(Restriction.objects.filter(gauge__in=ids).as_of(at)):
        found[gauge_id].restriction = None if restriction.lifted else restriction
    for member in Member.objects.filter(gauge__in=ids, withdrawn_on__lte=local_date(at)):
        found[member.gauge_id].withdrawn_members.append(member.label)


def _custody(found: dict[int, Facts], ids: list[int], at: datetime) -> None:
    rows = CustodyEvent.objects.filter(gauge__in=ids, kind__in=_CAME_OR_WENT, at__lte=at, recorded_at__lte=at)
    for gauge_id, event in _first(rows.order_by("-at", "-pk")):
        if event.kind == CustodyEvent.Kind.RECEIVED:
            found[gauge_id].received_at = event.at
