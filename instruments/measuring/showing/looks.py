"""The looks of a run with their answers, and the room as it was noted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from instruments.measuring.models import Arrival, Check, Condition
from instruments.measuring.open_items import looks_of
from instruments.measuring.queries import Bench
from instruments.measuring.showing import sayings
from instruments.measuring.showing.photos import PhotoShown, by_look, photos_of
from instruments.procedures.content import Look
from standards.register.models import Standard
from standards.register.queries import usability

_OF_THE_ROOM = ("temperature-out", "humidity-out", "soak-short", "log-gap")


@dataclass(frozen=True)
class LookLine:
    """One look with its last answer and its photos; ``is_next`` for the first that has no answer."""

    look: Look
    check: Check | None
    is_next: bool
    photos: tuple[PhotoShown, ...] = ()


@dataclass(frozen=True)
class Room:
    """The room of a run: what was noted, what it must be, with which sensors it may be read, what was refused."""

    noted: tuple[Condition, ...]
    outside: tuple[str, ...]
    sensors: tuple[Standard, ...]
    refused: sayings.Saying | None
    typed: dict[str, str]


def lines(bench: Bench) -> tuple[LookLine, ...]:
    """List the looks that apply to the gauge, in the procedure's order."""
    last = {check.code: check for check in bench.run.checks.all()}
    looks = looks_of(bench.run, bench.ground.content)
    unanswered = next((look.code for look in looks if look.code not in last), None)
    photos = by_look(photos_of(bench.run, bench.ground.content))
    return tuple(
        LookLine(look, last.get(look.code), look.code == unanswered, tuple(photos.get(look.code, ())))
        for look in looks
    )


def photos_of_whole(bench: Bench) -> tuple[PhotoShown, ...]:
    """List the photos of the gauge as a whole."""
    return tuple(by_look(photos_of(bench.run, bench.ground.content)).get("", ()))


def room(bench: Bench, now: datetime) -> Room:
    """Read the room of the run under way."""
    refused = [
        row
        for row in bench.set_asides
        if row.arrival.kind == Arrival.Kind.CONDITION and sayings.speaks_of(row, {"run": bench.run.pk})
    ]
    return Room(
        noted=tuple(bench.run.conditions.all()),
        outside=warnings(bench),
        sensors=sensors(now),
        refused=sayings.about(tuple(refused)),
        typed=sayings.fields_of(refused[-1]) if refused else {},
    )


def warnings(bench: Bench) -> tuple[str, ...]:
    """Say what of the room lies outside what the procedure allows, or was too short."""
    return tuple(
        item.sentence
        for item in bench.open_items
        if item.run_id == bench.run.pk and item.code in _OF_THE_ROOM
    )


def sensors(now: datetime) -> tuple[Standard, ...]:
    """List the thermometers that may be used now."""
    rows = Standard.objects.filter(kind=Standard.Kind.THERMOMETER).select_related("tag")
    return tuple(row for row in rows if usability(row, now).ok)


def latest(bench: Bench) -> Condition | None:
    """Give what was noted last of the room."""
    noted = list(bench.run.conditions.all())
    return noted[-1] if noted else None


def span(bench: Bench) -> tuple[Decimal, Decimal]:
    """Give the temperatures that the procedure allows, in °C."""
    limits = bench.ground.content.conditions
    return limits.temperature_low_c, limits.temperature_high_c
