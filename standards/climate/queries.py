"""Reads of the room's log: what it was like in a span of time, where the log has gaps, which thermometer tells it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise

from django.db.models import Count

from labsys.laboratory.models import Place
from standards.climate.models import LogReading
from standards.register.models import Standard

LONGEST_GAP = timedelta(minutes=30)
"""How long a log may say nothing before that is said (common practice, no source; *not confirmed*)."""

Row = tuple[datetime, Decimal, Decimal | None]


@dataclass(frozen=True)
class Extreme:
    """The lowest or highest value of a span, and when it was first met."""

    value: Decimal
    at: datetime


@dataclass(frozen=True)
class Course:
    """How one quantity went over a span: its plain mean over the readings, its lowest and highest value."""

    mean: Decimal
    low: Extreme
    high: Extreme


@dataclass(frozen=True)
class RoomSpan:
    """What a thermometer logged from ``start`` to ``end``: °C and, where it logs that, relative humidity in percent.

    ``gaps`` are the stretches longer than half an hour in which nothing was logged, those at both ends too.
    """

    sensor: Standard
    start: datetime
    end: datetime
    count: int
    temperature: Course
    humidity: Course | None
    gaps: tuple[tuple[datetime, datetime], ...]


def rows_between(sensor: Standard, start: datetime, end: datetime) -> list[Row]:
    """List the readings of a thermometer from ``start`` through ``end``, in order of time."""
    found = LogReading.objects.filter(sensor=sensor, at__range=(start, end)).order_by("at")
    return list(found.values_list("at", "temperature_c", "humidity_percent"))


def span_of(sensor: Standard, start: datetime, end: datetime) -> RoomSpan | None:
    """Sum up what a thermometer logged from ``start`` through ``end``; None where it logged nothing."""
    rows = rows_between(sensor, start, end)
    if not rows:
        return None
    damp = [(at, humidity) for at, _temperature, humidity in rows if humidity is not None]
    return RoomSpan(
        sensor=sensor,
        start=start,
        end=end,
        count=len(rows),
        temperature=_course([(at, temperature) for at, temperature, _humidity in rows]),
        humidity=_course(damp) if damp else None,
        gaps=_gaps([start, *(at for at, _t, _h in rows), end]),
    )


def room_between(place: Place, start: datetime, end: datetime) -> RoomSpan | None:
    """Sum up what the thermometer of a place logged; of several, the one that logged most. None where none did."""
    counted = (
        LogReading.objects.filter(sensor__place=place, at__range=(start, end))
        .order_by()
        .values("sensor")
        .annotate(count=Count("pk"))
        .order_by("-count", "sensor")
        .first()
    )
    if counted is None:
        return None
    return span_of(Standard.objects.select_related("tag").get(pk=counted["sensor"]), start, end)


def last_logged(sensor: Standard) -> LogReading | None:
    """Find the newest reading of a thermometer's log."""
    return LogReading.objects.filter(sensor=sensor).order_by("-at").first()


def _course(values: Sequence[tuple[datetime, Decimal]]) -> Course:
    low = min(values, key=lambda pair: (pair[1], pair[0]))
    high = max(values, key=lambda pair: (pair[1], -pair[0].timestamp()))
    mean = sum((value for _at, value in values), Decimal(0)) / len(values)
    return Course(mean, Extreme(low[1], low[0]), Extreme(high[1], high[0]))


def _gaps(instants: Sequence[datetime]) -> tuple[tuple[datetime, datetime], ...]:
    return tuple((before, after) for before, after in pairwise(instants) if after - before > LONGEST_GAP)
