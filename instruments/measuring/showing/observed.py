"""What was observed in a session besides its results: readings in order, what was set aside, standards, open rules."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from instruments.measuring.models import Point, Reading, RunStandard, Session, SetAside
from instruments.measuring.planning import rules_open
from instruments.measuring.queries.bench import observed
from instruments.measuring.showing import sayings, words
from instruments.procedures.queries import content_of
from labsys.metrology.plan import OpenRule


@dataclass(frozen=True)
class ReadingLine:
    """A reading as it was taken; ``why_not`` says why it doesn't count, empty where it does."""

    reading: Reading
    stage: str
    point: str
    why_not: str


@dataclass(frozen=True)
class SetAsideLine:
    """Something that did not become what it says it is, with what was typed and what became of it."""

    row: SetAside
    typed: str


def readings_of(session: Session) -> tuple[ReadingLine, ...]:
    """List every reading of a session in the order they were taken, struck and void ones too."""
    rows = Reading.objects.filter(point__run__session=session).select_related(
        "point__run", "point__void", "point__member", "strike__by", "read_by"
    )
    unit, content = session.gauge.model.unit, content_of(session.revision)
    return tuple(
        ReadingLine(
            row, row.point.run.get_stage_display(), words.point(row.point, unit, content), _why_not(row)
        )
        for row in rows.order_by("measured_at", "pk")
    )


def _why_not(row: Reading) -> str:
    if hasattr(row, "strike"):
        note = f", {row.strike.note}" if row.strike.note else ""
        return f"struck by {row.strike.by.name}: {row.strike.get_reason_display()}{note}"
    return f"void: {row.point.void.reason}" if hasattr(row.point, "void") else ""


def set_asides_of(session: Session) -> tuple[SetAsideLine, ...]:
    """List everything that was set aside in a session, answered for or not."""
    rows = SetAside.objects.filter(arrival__session=session).select_related("arrival__by").order_by("pk")
    return tuple(SetAsideLine(row, _typed(row)) for row in rows)


def _typed(row: SetAside) -> str:
    fields = sayings.fields_of(row)
    shown = (fields.get(name) for name in ("raw", "temperature_c", "humidity_percent", "reason", "answer"))
    return ", ".join(str(value) for value in shown if value) or row.arrival.text[:80]


def standards_of(session: Session) -> tuple[RunStandard, ...]:
    """List the standards picked, once for each run, with the calibration whose values are used."""
    rows = RunStandard.objects.filter(run__session=session)
    return tuple(
        rows.select_related("run", "standard__tag", "calibration").order_by("run", "standard__tag__text")
    )


def rules_left_open(session: Session) -> tuple[tuple[str, tuple[OpenRule, ...]], ...]:
    """Say for each run which rules of the procedure its points leave open, as far as they were read."""
    found = []
    for run in session.runs.prefetch_related(*observed()).order_by("opened_at", "pk"):
        read = Point.objects.filter(
            run=run, void=None, readings__strike=None, readings__isnull=False
        ).distinct()
        rules = rules_open(session, read)
        found.append((run.get_stage_display(), rules))
    return tuple(found)


def observed_of(session: Session) -> dict[str, Any]:
    """Give what pages show of a session besides its results."""
    return {
        "readings": readings_of(session),
        "aside": set_asides_of(session),
        "standards": standards_of(session),
        "rules": rules_left_open(session),
        "submissions": session.submissions.select_related(
            "submitted_by", "review__reviewer", "review__signature"
        ),
        "deviations": session.deviations.select_related("accepted_by"),
    }
