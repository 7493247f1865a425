"""What a past session leaves open of a draft's rules: points it would not have planned, readings, room, standards.

Lives here: sentences about a session. May not live here: results.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy

from instruments.measuring.dry_run.judging import moved_zeros
from instruments.measuring.dry_run.past import PastRun, PastSession
from instruments.measuring.evaluation.points import counting
from instruments.measuring.planning import rules_open
from instruments.measuring.rooms import conditions_while_measuring
from instruments.procedures.content import Content
from instruments.procedures.models import Revision
from instruments.procedures.queries import content_of


def left_open(past: PastSession, draft: Revision) -> tuple[str, ...]:
    """List as sentences what the runs of a session leave open of a draft's rules; empty where they meet them."""
    as_if = copy(past.session)
    as_if.revision = draft
    content = content_of(draft)
    several = len(past.runs) > 1
    found: list[str] = []
    for one in past.runs:
        taken = [point for point in one.points if counting(point)]
        if not taken:
            continue
        rules = (rule.sentence for rule in rules_open(as_if, taken) if rule.is_blocking)
        for sentence in (*rules, *_of_run(one, content)):
            found.append(f"{one.run.get_stage_display().capitalize()}: {sentence}" if several else sentence)
    return tuple(dict.fromkeys(found))


def _of_run(past: PastRun, content: Content) -> Iterator[str]:
    yield from _readings(past, content)
    yield from moved_zeros(past.run, past.run.session.gauge.model, content)
    yield from _room(past, content)
    yield from _references(past, content)


def _readings(past: PastRun, content: Content) -> Iterator[str]:
    few = [point for point in past.points if 0 < len(counting(point)) < content.repeats_at(point.function)]
    if few:
        wanted = max(content.repeats_at(point.function) for point in few)
        verb = "has" if len(few) == 1 else "have"
        yield (
            f"{len(few)} point{'' if len(few) == 1 else 's'} {verb} fewer readings than the draft asks for ({wanted})."
        )


def _room(past: PastRun, content: Content) -> Iterator[str]:
    limits = content.conditions
    for row in conditions_while_measuring(past.run):
        if not limits.temperature_low_c <= row.temperature_c <= limits.temperature_high_c:
            yield (
                f"{row.temperature_c:.1f} °C lies outside the draft's {limits.temperature_low_c} to "
                f"{limits.temperature_high_c} °C."
            )


def _references(past: PastRun, content: Content) -> Iterator[str]:
    """Name the elements whose U is larger than the draft admits."""
    weak = {
        f"{value.element.standard.tag} {value.element.label}"
        for point in past.points
        for row in point.references.all()
        for value in (row.element_value,)
        if value.U_mm is not None and value.U_mm > content.references.most_U_mm(row.nominal_mm)
    }
    if weak:
        yield f"The U of {', '.join(sorted(weak))} is larger than the draft admits of a reference."
