"""Where gauges are and why they are late, in a sentence each, read for a page of them at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from instruments.inventory.models import GaugeState
from instruments.recall.models import GaugeStanding, Hold
from instruments.recall.queries.call_ins import open_call_ins


@dataclass(frozen=True)
class Whereabouts:
    """Where a gauge is, as a planner needs to know it."""

    sentence: str


def whereabouts(rows: Sequence[GaugeStanding], today: date) -> dict[int, Whereabouts]:
    """Say for each standing where its gauge is and what it waits for; two queries however many."""
    ids = [row.pk for row in rows]
    called = dict(open_call_ins().filter(gauge__in=ids).values_list("gauge", "bring_by"))
    held = set(Hold.objects.filter(gauge__in=ids, lifted_at=None).values_list("gauge", flat=True))
    return {row.pk: Whereabouts(_say(row, called.get(row.pk), row.pk in held, today)) for row in rows}


def _say(row: GaugeStanding, bring_by: date | None, is_held: bool, today: date) -> str:
    parts = [_place(row, bring_by, today)]
    if is_held:
        parts.append("on hold")
    return ", ".join(parts)


def _place(row: GaugeStanding, bring_by: date | None, today: date) -> str:
    if row.state == GaugeState.State.AWAY:
        return "at an outside laboratory"
    if row.in_laboratory:
        return "in the laboratory"
    if bring_by is None:
        return "on loan, not called in" if row.state == GaugeState.State.ON_LOAN else "in use, not called in"
    if bring_by < today:
        return f"called in by {bring_by:%Y-%m-%d}, not brought"
    return f"called in by {bring_by:%Y-%m-%d}"
