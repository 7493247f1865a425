"""Reads of limits: what holds for a gauge at an instant, and which line of it holds for a length."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from instruments.inventory.models import Gauge, GaugeModel, LimitRow, LimitSet
from labsys.laboratory.models import CHARACTERISTICS, MeasuringFunction
from labsys.metrology.angle_readings import angle_text
from labsys.metrology.limits import Limits
from labsys.metrology.units import Quantity
from labsys.metrology.units import Unit as LengthUnit

# A small bore is measured with the inside jaws: where no line is its own, the inside line holds.
STANDS_IN = {MeasuringFunction.SMALL_BORE.value: MeasuringFunction.INSIDE.value}


@dataclass(frozen=True)
class LimitsInForce:
    """The limits that hold for a gauge: lines as they travel, their source, whose they are, since when.

    ``rows`` holds ``{"function", "up_to_mm", "lower_mm", "upper_mm"}`` with decimals as strings, or None where a side
    has no limit; ordered by function and length.
    """

    rows: list[dict[str, Any]]
    source: str
    confirmed: bool
    own: bool
    limit_set_id: int
    valid_from: datetime


def limits_for(gauge: Gauge, at: datetime, known_at: datetime | None = None) -> LimitsInForce | None:
    """Find the limits in force at ``at``: the gauge's own set, otherwise its model's; None when nobody set any.

    An own set without lines is the decision to go back to the model's.
    """
    own = _in_force(LimitSet.objects.filter(gauge=gauge), at, known_at)
    if own is not None and own.rows:
        return own
    return limits_of_model(gauge.model, at, known_at)


def limits_of_model(
    model: GaugeModel, at: datetime, known_at: datetime | None = None
) -> LimitsInForce | None:
    """Find the limits of a model in force at ``at``."""
    return _in_force(LimitSet.objects.filter(model=model), at, known_at)


def own_limits(gauge: Gauge, at: datetime, known_at: datetime | None = None) -> LimitsInForce | None:
    """Find the gauge's own limits in force at ``at``; None while its model's hold."""
    found = _in_force(LimitSet.objects.filter(gauge=gauge), at, known_at)
    return found if found is not None and found.rows else None


def limits_at(rows: Iterable[dict[str, Any]], function: str, length_mm: Decimal) -> Limits | None:
    """Pick the limits for a function at a length in mm: the first line whose ``up_to_mm`` reaches it.

    None when no line of the function reaches the length. A small bore without lines of its own takes the inside
    line; a line with one side only gives one-sided limits.
    """
    known = list(rows)
    mine = [row for row in known if row["function"] == function]
    if not mine and function in STANDS_IN:
        mine = [row for row in known if row["function"] == STANDS_IN[function]]
    reaching = [row for row in mine if Decimal(row["up_to_mm"]) >= length_mm]
    if not reaching:
        return None
    row = min(reaching, key=lambda one: Decimal(one["up_to_mm"]))
    return Limits(_decimal(row["lower_mm"]), _decimal(row["upper_mm"]))


def travelling(row: LimitRow) -> dict[str, Any]:
    """Write a line of limits as it travels: decimals as plain strings without trailing zeros."""
    return {
        "function": row.function,
        "up_to_mm": plain(row.up_to_mm),
        "lower_mm": None if row.lower_mm is None else plain(row.lower_mm),
        "upper_mm": None if row.upper_mm is None else plain(row.upper_mm),
    }


def shown(limits: LimitsInForce | None, quantity: str) -> list[dict[str, Any]]:
    """Give the lines of limits as a page shows them: the function in words, lengths as decimals."""
    if limits is None:
        return []
    return [
        {
            "function": CHARACTERISTICS[row["function"]],
            "quantity": quantity,
            **{name: _decimal(row[name]) for name in ("up_to_mm", "lower_mm", "upper_mm")},
        }
        for row in limits.rows
    ]


def range_words(model: GaugeModel) -> str:
    """Write a model's range for a column: 0 to 150 in millimetres, 0° to 360°."""
    ends = (model.range_low_mm, model.range_high_mm)
    if model.quantity is Quantity.ANGLE:
        return " to ".join(angle_text(end, LengthUnit.DEG) for end in ends)
    return " to ".join(plain(end) for end in ends)


def plain(value: Decimal) -> str:
    """Write a decimal without exponent and without trailing zeros."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _in_force(sets: Any, at: datetime, known_at: datetime | None) -> LimitsInForce | None:
    found: LimitSet | None = sets.in_force(at, known_at)
    if found is None:
        return None
    return LimitsInForce(
        rows=[travelling(row) for row in found.rows.all()],
        source=found.source,
        confirmed=found.confirmed,
        own=found.gauge_id is not None,
        limit_set_id=found.pk,
        valid_from=found.valid_from,
    )


def _decimal(text: str | Decimal | None) -> Decimal | None:
    return None if text is None else Decimal(text)
