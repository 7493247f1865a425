"""What the log of the room says about a run: from the time before its first reading to its last."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Max

from instruments.measuring.models import Reading, Run
from instruments.measuring.soaking import Soak
from instruments.procedures.content import Content
from labsys.laboratory.queries import local_time
from standards.climate.queries import RoomSpan, room_between, span_of
from standards.register.models import Standard

SHORTEST_BEFORE = timedelta(minutes=30)
"""How long before the first reading the room is looked at, where the procedure asks for less (common practice, no
source)."""


@dataclass(frozen=True)
class Window:
    """From when to when the room of a run matters."""

    start: datetime
    end: datetime


def window_of(run: Run, soak: Soak, now: datetime | None = None) -> Window | None:
    """Give the time in which the room matters; before anything was read up to ``now``, None without one.

    It begins as long before the first reading as the gauge has to lie in the room, not before it lay there.
    """
    begins, ends = soak.first_reading or now, _last_reading(run) or now
    if begins is None or ends is None:
        return None
    before = max(soak.wanted, SHORTEST_BEFORE)
    return Window(min(max(soak.began_at, begins - before), begins), ends)


def _last_reading(run: Run) -> datetime | None:
    """Find when the faces or a point of a run were read last; struck readings were read too."""
    found = Reading.objects.filter(point__run=run).aggregate(last=Max("measured_at"))["last"]
    times = [check.at for check in run.zero_checks.all()]
    return max([*times, *([found] if found else [])], default=None)


def logged(run: Run, soak: Soak) -> RoomSpan | None:
    """Sum up the log over the run's window: of the thermometer that was noted from, otherwise of the place's.

    None where nothing was read yet, or where no log speaks of that time.
    """
    window = window_of(run, soak)
    if window is None:
        return None
    sensor = relied_on(run)
    if sensor is not None:
        return span_of(sensor, window.start, window.end)
    return room_between(run.session.place, window.start, window.end)


def relied_on(run: Run) -> Standard | None:
    """Give the thermometer whose log the run's room was last noted from; None where it was typed."""
    taken = [row.sensor for row in run.conditions.all() if hasattr(row, "span")]
    return taken[-1] if taken else None


def gap_sentences(span: RoomSpan) -> tuple[str, ...]:
    """Say where the log says nothing."""
    return tuple(
        f"The log of {span.sensor.tag} says nothing from {local_time(start)} to {local_time(end)}."
        for start, end in span.gaps
    )


def outside(span: RoomSpan, content: Content) -> tuple[tuple[str, str], ...]:
    """Say what of a stretch of log lies outside the procedure's limits: pairs of a code and a sentence."""
    limits = content.conditions
    checks = [
        ("temperature-out", span.temperature, limits.temperature_low_c, limits.temperature_high_c, "°C", 2)
    ]
    if span.humidity is not None:
        checks.append(
            ("humidity-out", span.humidity, limits.humidity_low, limits.humidity_high, "% humidity", 0)
        )
    return tuple(
        (code, f"{end.value:.{places}f} {unit} at {local_time(end.at)} lies outside {low} to {high} {unit.split()[0]}, "
         f"by the log of {span.sensor.tag}.")
        for code, course, low, high, unit, places in checks
        for end in (course.low, course.high)
        if not low <= end.value <= high
    )  # fmt: skip
