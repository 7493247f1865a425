"""Adds to a thermometer's log. What is on record stays; the same instant again is the same reading.

One entry of the journal for each piece that comes, none for each reading: these are rows that nobody can change.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, ClassVar

from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require
from labsys.laboratory.queries import local_time, zone
from standards.climate.access import LOG_ROOM
from standards.climate.log_files import read_log
from standards.climate.log_rows import LogFault, LogRow, RowUnreadable, row_of
from standards.climate.models import LogReading, LogUpload
from standards.register.models import Standard

MOST_AT_ONCE = 10_000
FAULTS_KEPT = 200
CLOCK_TOLERANCE = timedelta(minutes=5)
"""How far a logger's clock may be ahead before its readings are doubted (common practice, no source)."""


class NoThermometer(LabError, ValueError):
    """Only a thermometer has a log of the room."""

    code: ClassVar[str] = "no-thermometer"
    sentence: ClassVar[str] = "{tag} is a {kind}, not a thermometer, so it has no log of the room."


class LogReadingsTooMany(LabError, ValueError):
    """More readings in one message than are taken at once."""

    code: ClassVar[str] = "log-readings-too-many"
    sentence: ClassVar[str] = "Expected at most {most} readings at once, found {found}. Send them in several."
    field: ClassVar[str | None] = "readings"


@dataclass(frozen=True)
class _Piece:
    """A piece of a log as it came, and what is in it."""

    source: str
    name: str
    sha256: str
    content: str
    rows: Sequence[LogRow]
    faults: Sequence[LogFault]


@act("climate.log-file")
def log_file(*, sensor: Standard, name: str, content: bytes, by: Person, now: datetime) -> LogUpload:
    """Add a logger's file to a thermometer's log: the good lines are taken, the others named by their number.

    The same file again is the same piece. Raises NoThermometer, LogTooLarge, NoLog, NotCelsius.
    """
    require(by, LOG_ROOM)
    _refuse_other(sensor)
    log = read_log(content, name, zone())
    sha256 = hashlib.sha256(content).hexdigest()
    piece = _Piece(LogUpload.Source.FILE, name[:200], sha256, log.text, log.rows, log.faults)
    return _add(sensor, piece, by, now)


@act("climate.log-readings")
def log_readings(
    *, sensor: Standard, readings: Sequence[Mapping[str, Any]], by: Person, now: datetime
) -> LogUpload:
    """Add readings that a program sends, each with ``at``, ``temperature_c`` and perhaps ``humidity_percent``.

    The same readings again are the same piece. Raises NoThermometer, LogReadingsTooMany.
    """
    require(by, LOG_ROOM)
    _refuse_other(sensor)
    if len(readings) > MOST_AT_ONCE:
        raise LogReadingsTooMany(most=MOST_AT_ONCE, found=len(readings))
    rows: list[LogRow] = []
    faults: list[LogFault] = []
    for number, given in enumerate(readings, start=1):
        texts = tuple(
            str(given.get(name) or "") if given.get(name) != 0 else "0"
            for name in ("at", "temperature_c", "humidity_percent")
        )
        try:
            rows.append(row_of(number, texts, zone()))  # type: ignore[arg-type]
        except RowUnreadable as problem:
            faults.append(LogFault(number, str(problem)))
    content = json.dumps(list(readings), ensure_ascii=False, sort_keys=True, default=str)
    sha256 = hashlib.sha256(content.encode()).hexdigest()
    return _add(sensor, _Piece(LogUpload.Source.PROGRAM, "", sha256, content, rows, faults), by, now)


def _refuse_other(sensor: Standard) -> None:
    if sensor.kind != Standard.Kind.THERMOMETER:
        kind = sensor.get_kind_display()
        raise NoThermometer(tag=sensor.tag.text, kind=kind, subject=f"standard:{sensor.pk}")


def _add(sensor: Standard, piece: _Piece, by: Person, now: datetime) -> LogUpload:
    Standard.objects.select_for_update().get(pk=sensor.pk)  # pieces of one log come one after another
    found = LogUpload.objects.filter(sensor=sensor, sha256=piece.sha256).first()
    if found is not None:
        note(f"standard:{sensor.pk}", after={"log": found.pk, "sha256": found.sha256, "again": True})
        return found
    fresh, known, faults = _told_apart(sensor, piece, now)
    upload = LogUpload.objects.create(
        sensor=sensor,
        source=piece.source,
        name=piece.name,
        sha256=piece.sha256,
        content=piece.content,
        new_count=len(fresh),
        known_count=known,
        fault_count=len(faults),
        faults=[[fault.line, fault.sentence] for fault in faults[:FAULTS_KEPT]],
        at=now,
        by=by,
    )
    made = (
        LogReading(
            sensor=sensor,
            upload=upload,
            at=row.at,
            temperature_c=row.temperature_c,
            humidity_percent=row.humidity_percent,
        )
        for row in fresh
    )
    LogReading.objects.bulk_create(made, batch_size=500)
    note(f"standard:{sensor.pk}", after=_described(upload))
    return upload


def _told_apart(sensor: Standard, piece: _Piece, now: datetime) -> tuple[list[LogRow], int, list[LogFault]]:
    """Tell new readings from those on record; one to come, or one that says other than before, is a fault."""
    instants = [row.at for row in piece.rows]
    held: dict[datetime, Any] = {}
    if instants:
        rows = LogReading.objects.filter(sensor=sensor, at__range=(min(instants), max(instants)))
        held = dict(rows.values_list("at", "temperature_c"))
    fresh: dict[datetime, LogRow] = {}
    faults, known = list(piece.faults), 0
    for row in piece.rows:
        before = fresh[row.at].temperature_c if row.at in fresh else held.get(row.at)
        if row.at > now + CLOCK_TOLERANCE:
            said = f"Expected a time that has passed, found {local_time(row.at)}. Check the logger's clock."
            faults.append(LogFault(row.line, said))
        elif before is None:
            fresh[row.at] = row
        elif before == row.temperature_c:
            known += 1
        else:
            held_so = f"At {local_time(row.at)} the log has {before} °C already"
            said = f"{held_so}, here {row.temperature_c} °C. The first stays."
            faults.append(LogFault(row.line, said))
    return list(fresh.values()), known, sorted(faults, key=lambda fault: fault.line)


def _described(upload: LogUpload) -> dict[str, Any]:
    return {
        "log": upload.pk,
        "source": upload.source,
        "name": upload.name,
        "sha256": upload.sha256,
        "new": upload.new_count,
        "known": upload.known_count,
        "faults": upload.fault_count,
    }
