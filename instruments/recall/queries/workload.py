"""The coming weeks against the bench's hours, and what is late: read from the standings, summed by the database.

Work stands in the week in which it is expected at the bench: called-in gauges in the week they are to be brought, what
is here in this week, everything else in the week it falls due. Late gauges nobody has called in stand to the left.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Count, Exists, OuterRef, QuerySet, Sum

from instruments.inventory.models import GaugeState
from instruments.recall.models import CallIn, GaugeStanding
from instruments.recall.queries.standing import RECALL_RESTS
from labsys.laboratory.queries import hours_per_week, start_of_day

WEEK = timedelta(days=7)
MOST_LATE = 4
"""Late weeks shown; the last one holds all that is later still."""

WORKDAYS = 5
_HOURS = "gauge__model__family__bench_hours"
_OPEN = CallIn.objects.filter(answered_at=None, withdrawn_at=None)


@dataclass
class Load:
    """Gauges and bench hours of one kind in one week."""

    count: int = 0
    hours: Decimal = Decimal(0)

    def add(self, count: int, hours: Decimal | None) -> None:
        """Add a group the database summed."""
        self.count += count
        self.hours += hours or Decimal(0)


@dataclass
class Week:
    """One week of the rule: 0 is this one, −1 what is up to a week late. Hours are bench hours."""

    index: int
    monday: date
    capacity: Decimal
    due: Load = field(default_factory=Load)
    called: Load = field(default_factory=Load)

    @property
    def needs(self) -> Decimal:
        """Give the hours of all work in the week."""
        return self.due.hours + self.called.hours

    @property
    def excess(self) -> Decimal:
        """Give the hours beyond what the bench has; 0 for late weeks, whose time has gone."""
        return max(self.needs - self.capacity, Decimal(0)) if self.index >= 0 else Decimal(0)

    @property
    def name(self) -> str:
        """Give the week's number as the calendar counts (ISO 8601): 2026-W49; late weeks by their distance."""
        if self.index < 0:
            return f"late-{-self.index}"
        year, number, _ = self.monday.isocalendar()
        return f"{year}-W{number:02}"

    @property
    def number(self) -> int:
        """Give the number of the calendar week."""
        return self.monday.isocalendar().week


def recalled() -> QuerySet[GaugeStanding]:
    """Find the standings of gauges that the laboratory calls back itself."""
    return GaugeStanding.objects.exclude(state__in=(*RECALL_RESTS, GaugeState.State.AWAY))


def monday_of(day: date) -> date:
    """Give the Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def weeks(today: date, count: int = 12) -> list[Week]:
    """Give the late weeks and ``count`` weeks from this one on, with work and the bench's hours in each."""
    first = monday_of(today)
    found = {index: Week(index, first + index * WEEK, Decimal(0)) for index in range(-MOST_LATE, count)}
    for index in range(count):
        found[index].capacity = _capacity(found[index].monday, today)
    _add_due(found, today, first + count * WEEK)
    _add_called(found, today)
    here = recalled().filter(in_laboratory=True).aggregate(count=Count("pk"), hours=Sum(_HOURS))
    found[0].called.add(here["count"], here["hours"])
    return [found[index] for index in sorted(found)]


def week_of(day: date, today: date) -> int:
    """Give the index of the week a due day belongs to: −1 for one to seven days late, 0 for this week and so on."""
    if day < today:
        return -min((today - day - timedelta(days=1)) // WEEK + 1, MOST_LATE)
    return (monday_of(day) - monday_of(today)) // WEEK


def _capacity(monday: date, today: date) -> Decimal:
    """Give the bench's hours of a week; of this week, only the share of the working days that are left."""
    hours = hours_per_week(start_of_day(max(monday, today)))
    left = max(WORKDAYS - today.weekday(), 0) if monday <= today else WORKDAYS
    return (hours * left / WORKDAYS).quantize(Decimal("0.1"))


def _add_due(found: dict[int, Week], today: date, until: date) -> None:
    waiting = recalled().filter(in_laboratory=False, valid_until__lt=until)
    free = waiting.filter(~Exists(_OPEN.filter(gauge=OuterRef("gauge"))))
    for row in _by_day(free, "valid_until"):
        found[week_of(row["valid_until"], today)].due.add(row["count"], row["hours"])


def _add_called(found: dict[int, Week], today: date) -> None:
    rests = (*RECALL_RESTS, GaugeState.State.AWAY)
    called = _OPEN.filter(gauge__standing__in_laboratory=False).exclude(gauge__standing__state__in=rests)
    hours = Sum("gauge__model__family__bench_hours")
    for row in called.order_by().values("bring_by").annotate(count=Count("pk"), hours=hours):
        # What wasn't brought when asked for is still to come, from today on.
        index = week_of(max(row["bring_by"], today), today)
        if index in found:
            found[index].called.add(row["count"], row["hours"])


def _by_day(rows: QuerySet[GaugeStanding], day: str) -> Any:
    return rows.order_by().values(day).annotate(count=Count("pk"), hours=Sum(_HOURS))


def in_week(index: int, today: date) -> QuerySet[GaugeStanding]:
    """Find the standings whose due day lies in a week of the rule, called in or not, the earliest first."""
    rows = recalled().filter(valid_until__isnull=False)
    if index < 0:
        rows = rows.filter(valid_until__lt=today - (-index - 1) * WEEK)
        if -index < MOST_LATE:
            rows = rows.filter(valid_until__gte=today + index * WEEK)
    else:
        monday = monday_of(today) + index * WEEK
        rows = rows.filter(valid_until__gte=max(monday, today), valid_until__lt=monday + WEEK)
    return rows.order_by("valid_until", "pk")


def late(today: date) -> QuerySet[GaugeStanding]:
    """Find the standings of gauges past their due day, the latest first, gauges at outside laboratories too."""
    rows = GaugeStanding.objects.exclude(state__in=RECALL_RESTS).filter(valid_until__lt=today)
    return rows.select_related(
        "gauge__tag", "gauge__model__family", "gauge__department", "gauge__place"
    ).order_by("valid_until", "pk")


@dataclass(frozen=True)
class DepartmentWeek:
    """What one department has to bring this week."""

    department: str
    due: int
    called: int
    hours: Decimal


def by_department(today: date) -> list[DepartmentWeek]:
    """Sum this week by department: what falls due or was called in for it, and the bench hours of both."""
    end = monday_of(today) + WEEK
    pairs: dict[str, tuple[Load, Load]] = defaultdict(lambda: (Load(), Load()))
    name = "gauge__department__name"
    out = recalled().filter(in_laboratory=False)
    free = out.filter(valid_until__gte=today, valid_until__lt=end)
    free = free.filter(~Exists(_OPEN.filter(gauge=OuterRef("gauge"))))
    for row in _by_day(free, name):
        pairs[row[name]][0].add(row["count"], row["hours"])
    called = out.filter(Exists(_OPEN.filter(gauge=OuterRef("gauge"), bring_by__lt=end)))
    for row in _by_day(called, name):
        pairs[row[name]][1].add(row["count"], row["hours"])
    return [
        DepartmentWeek(name, due.count, called.count, due.hours + called.hours)
        for name, (due, called) in sorted(pairs.items())
    ]
