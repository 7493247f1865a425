"""The words of a digest: one message per person and day, what presses first, each gauge with where it belongs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.conf import settings

from instruments.reminders.models import Reminder
from instruments.reminders.queries import Thing

MOST_LINES = 100
About = Reminder.About


@dataclass(frozen=True)
class Section:
    """A part of a message: its heading and the gauges under it."""

    heading: str
    things: list[Thing]


def title(things: Sequence[Thing], today: date) -> str:
    """Say in one line what the message holds: "2 late, 3 called in, 5 due"."""
    late = sum(thing.about == About.DUE and thing.on < today for thing in things)
    called = sum(thing.about != About.DUE for thing in things)
    due = len(things) - late - called
    parts = [(late, "late"), (called, "called in"), (due, "due")]
    said = ", ".join(f"{count} {word}" for count, word in parts if count)
    return f"Gauges: {said}"


def body(things: Sequence[Thing], today: date, *, unreached: Sequence[Thing] = ()) -> str:
    """Write the message in plain text; ``unreached`` are gauges that nobody else could be told about."""
    parts = [_text(section, today) for section in _sections(things, today) if section.things]
    if unreached:
        parts.append(_text(Section("Nobody else could be told by mail about", list(unreached)), today))
    foot = (
        f"Where to bring them and what may be used until then: {settings.SITE_URL}/\n"
        "Calibration laboratory. This message is sent once; nobody reads answers to it."
    )
    return "\n\n".join([*parts, foot]) + "\n"


def _sections(things: Sequence[Thing], today: date) -> list[Section]:
    def pick(about: str) -> list[Thing]:
        return [thing for thing in things if thing.about == about]

    due = pick(About.DUE)
    return [
        Section("Late: do not use these, bring them", [thing for thing in due if thing.on < today]),
        Section("Called in and not brought", pick(About.NOT_PRESENTED)),
        Section("Called in: please bring", pick(About.CALLED_IN)),
        Section("Due today: valid through the end of the day", [t for t in due if t.on == today]),
        Section("Due soon", [thing for thing in due if thing.on > today]),
    ]


def _text(section: Section, today: date) -> str:
    things = sorted(section.things, key=lambda thing: (thing.on, thing.gauge.tag.text))
    lines = [_line(thing, today) for thing in things[:MOST_LINES]]
    if len(things) > MOST_LINES:
        lines.append(f"  and {len(things) - MOST_LINES} more")
    return "\n".join([f"{section.heading} ({len(things)})", *lines])


def _line(thing: Thing, today: date) -> str:
    gauge = thing.gauge
    what = f"{gauge.tag.text}, {gauge.model.family.name.lower()}, {gauge.department.name}, {gauge.place.name}"
    word = "due" if thing.about == About.DUE else "by"
    return f"  {what}: {word} {thing.on:%Y-%m-%d}{_distance(thing.on, today)}"


def _distance(day: date, today: date) -> str:
    days = (day - today).days
    if days == 0:
        return ", today"
    unit = "day" if abs(days) == 1 else "days"
    return f", in {days} {unit}" if days > 0 else f", {-days} {unit} ago"
