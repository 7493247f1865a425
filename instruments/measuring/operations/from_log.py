"""The room noted from a thermometer's log: the mean over a stretch, its ends beside it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import ClassVar

from instruments.measuring.models import Arrival, Condition, Run
from instruments.measuring.models.rooms import ConditionSpan
from instruments.measuring.room_log import window_of
from instruments.measuring.soaking import soak_of
from instruments.procedures.queries import content_of
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.laboratory.queries import zone
from standards.climate.queries import RoomSpan, span_of
from standards.register.models import Standard


class NothingLogged(LabError, ValueError):
    """The log says nothing of the time it was asked for."""

    code: ClassVar[str] = "nothing-logged"
    sentence: ClassVar[str] = (
        "The log of {tag} says nothing from {start} to {end}. Add the logger's newest file to it, or type what the "
        "thermometer shows."
    )
    field: ClassVar[str | None] = "temperature_c"


class NoSensorNamed(LabError, ValueError):
    """A log is that of a thermometer."""

    code: ClassVar[str] = "no-sensor-named"
    sentence: ClassVar[str] = "Say from which thermometer's log the room is to be noted."
    field: ClassVar[str | None] = "sensor"


def note_from_log(
    run: Run, sensor: Standard | None, *, arrival: Arrival, at: datetime, by: Person
) -> Condition:
    """Note the mean of what ``sensor`` logged over the time that matters; raises NoSensorNamed, NothingLogged."""
    if sensor is None:
        raise NoSensorNamed()
    window = window_of(run, soak_of(run, content_of(run.session.revision)), at)
    assert window is not None, "with a time given there is one"
    span = span_of(sensor, window.start, max(window.end, at))
    if span is None:
        raise NothingLogged(tag=sensor.tag.text, start=_clock(window.start), end=_clock(at))
    humidity = span.humidity
    row = Condition.objects.create(
        run=run,
        arrival=arrival,
        temperature_c=span.temperature.mean.quantize(Decimal("0.01")),
        humidity_percent=humidity.mean.quantize(Decimal("0.1")) if humidity else None,
        sensor=sensor,
        at=at,
        by=by,
    )
    _keep(row, span)
    return row


def _keep(row: Condition, span: RoomSpan) -> ConditionSpan:
    return ConditionSpan.objects.create(
        condition=row,
        start=span.start,
        end=span.end,
        reading_count=span.count,
        temperature_low_c=span.temperature.low.value,
        temperature_high_c=span.temperature.high.value,
        humidity_low_percent=span.humidity.low.value if span.humidity else None,
        humidity_high_percent=span.humidity.high.value if span.humidity else None,
        gap_count=len(span.gaps),
    )


def _clock(at: datetime) -> str:
    return f"{at.astimezone(zone()):%H:%M}"
