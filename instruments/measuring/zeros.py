"""What a zero reading means for its gauge: whether it holds, whether it can be set at all."""

from __future__ import annotations

from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.measuring.models import ZeroCheck
from instruments.procedures.content import Content
from instruments.procedures.queries import content_of
from labsys.metrology.zero import zero_holds


def holds(zero: ZeroCheck) -> bool:
    """Say whether a closing zero lies within the steps that the procedure allows (one, unless it says otherwise).

    Where the zero can't be set, it holds when it reads what it read as found.
    """
    session = zero.run.session
    content, model = content_of(session.revision), session.gauge.model
    moved_mm = zero.value_mm - (_as_found_mm(zero) if is_fixed(model, content) else 0)
    return zero_holds(moved_mm, model.step_mm, allowed_steps=content.zero.allowed_steps)


def is_fixed(model: GaugeModel, content: Content) -> bool:
    """Say whether the gauge's zero can't be set: then its closed reading is an error and counts."""
    return content.zero.fixed or model.indication == GaugeModel.Indication.VERNIER


def _as_found_mm(zero: ZeroCheck) -> Decimal:
    rows = [row for row in zero.run.zero_checks.all() if row.kind == ZeroCheck.Kind.AS_FOUND]
    return rows[0].value_mm if rows else Decimal(0)
