"""Acts on limits: a new set of lines for a model or one gauge, from an instant on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from instruments.inventory.access import SET_LIMITS
from instruments.inventory.models import Gauge, GaugeModel, LimitRow, LimitSet
from instruments.inventory.operations.reasons import given
from instruments.inventory.queries.limits import LimitsInForce, limits_of_model, own_limits, travelling
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.limit_rows import LimitLine, read_lines
from labsys.metrology.units import Quantity


class NoLimits(LabError, ValueError):
    """A set of limits without lines says nothing."""

    code: ClassVar[str] = "no-limits"
    sentence: ClassVar[str] = (
        "The limits of {whose} have no line. Give at least one with a lower or an upper limit."
    )
    field: ClassVar[str | None] = "rows"


class SourceMissing(LabError, ValueError):
    """Limits without a source can't be checked by anybody."""

    code: ClassVar[str] = "source-missing"
    sentence: ClassVar[str] = (
        "Say where the limits of {whose} come from: the standard and edition, the maker's data, or an own decision."
    )
    field: ClassVar[str | None] = "source"


class LimitsOfOne(LabError, ValueError):
    """Limits belong to a model or to one gauge, never to both or none."""

    code: ClassVar[str] = "limits-of-one"
    sentence: ClassVar[str] = "Limits belong to a model or to one gauge. Name exactly one of the two."


class NoOwnLimits(LabError, ValueError):
    """A gauge under its model's limits has none of its own to give up."""

    code: ClassVar[str] = "no-own-limits"
    sentence: ClassVar[str] = "{tag} has no limits of its own: those of its model hold already."


@dataclass(frozen=True)
class LimitsData:
    """A set of limits: its lines, where they come from, whether somebody compared them with the source, and why now.

    ``rows`` are ``{"function", "up_to_mm", "lower_mm", "upper_mm"}``, lengths in mm as decimals or their text, None
    where a side has no limit.
    """

    rows: Iterable[dict[str, Any]]
    source: str
    confirmed: bool = False
    reason: str = ""


@act("inventory.set-limits")
def set_limits(
    *,
    model: GaugeModel | None = None,
    gauge: Gauge | None = None,
    data: LimitsData,
    valid_from: datetime,
    by: Acting,
    now: datetime,
) -> LimitSet:
    """Set the limits of a model, or of one gauge, from ``valid_from`` on; the set before stays on record.

    Raises LimitsOfOne, SourceMissing, NoLimits, LimitRowFault.
    """
    require(by, SET_LIMITS)
    subject, whose, before = _target(model, gauge, now)
    made = gauge.model if gauge is not None else model
    quantity = Quantity.LENGTH if made is None else made.quantity
    lines = [_row(line) for line in read_lines(data.rows, subject=subject, quantity=quantity)]
    if not data.source.strip():
        raise SourceMissing(whose=whose, subject=subject)
    if not lines:
        raise NoLimits(whose=whose, subject=subject)
    found = LimitSet(
        model=model,
        gauge=gauge,
        source=data.source.strip(),
        confirmed=data.confirmed,
        reason=data.reason.strip(),
    )
    _save(found, lines, valid_from, now)
    after = _described([travelling(line) for line in lines], found.source, found.confirmed)
    note(subject, reason=found.reason, before=before, after={**after, "limits_from": valid_from})
    return found


@act("inventory.withdraw-limits")
def withdraw_limits(*, gauge: Gauge, reason: str, by: Acting, now: datetime) -> LimitSet:
    """Give up a gauge's own limits: those of its model hold again; raises NoOwnLimits, ReasonMissing."""
    require(by, SET_LIMITS)
    subject, _whose, before = _target(None, gauge, now)
    why = given(reason, what="limits", subject=subject)
    if before is None:
        raise NoOwnLimits(tag=gauge.tag.text, subject=subject)
    found = LimitSet(gauge=gauge, source="the model's limits", reason=why)
    _save(found, [], now, now)
    note(subject, reason=why, before=before, after={"limits": None})
    return found


def _row(line: LimitLine) -> LimitRow:
    return LimitRow(
        function=line.function, up_to_mm=line.up_to_mm, lower_mm=line.lower_mm, upper_mm=line.upper_mm
    )


def _target(
    model: GaugeModel | None, gauge: Gauge | None, now: datetime
) -> tuple[str, str, dict[str, Any] | None]:
    """Say whose limits are meant, and describe what held before."""
    if model is not None and gauge is None:
        held, subject, whose = limits_of_model(model, now), f"model:{model.pk}", str(model)
    elif gauge is not None and model is None:
        held, subject, whose = own_limits(gauge, now), f"gauge:{gauge.pk}", gauge.tag.text
    else:
        raise LimitsOfOne()
    return subject, whose, _before(held)


def _before(held: LimitsInForce | None) -> dict[str, Any] | None:
    return None if held is None else _described(held.rows, held.source, held.confirmed)


def _described(rows: list[dict[str, Any]], source: str, confirmed: bool) -> dict[str, Any]:
    return {"limits": rows, "limits_source": source, "limits_confirmed": confirmed}


def _save(found: LimitSet, lines: list[LimitRow], valid_from: datetime, now: datetime) -> None:
    found.valid_from, found.recorded_at = valid_from, now
    found.full_clean()
    found.save()
    for line in lines:
        line.limit_set = found
    LimitRow.objects.bulk_create(lines)
