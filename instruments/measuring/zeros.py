"""What a zero reading means for its gauge: whether it holds, whether it can be set at all."""

from __future__ import annotations

from instruments.inventory.models import GaugeModel
from instruments.measuring.models import ZeroCheck
from instruments.procedures.content import Content
from instruments.procedures.queries import content_of


def holds(zero: ZeroCheck) -> bool:
    """Say whether a zero lies within the steps that the procedure allows (one, unless it says otherwise)."""
    session = zero.run.session
    return abs(zero.value_mm) <= session.gauge.model.step_mm * content_of(session.revision).zero.allowed_steps


def is_fixed(model: GaugeModel, content: Content) -> bool:
    """Say whether the gauge's zero can't be set: then its closed reading is an error and counts."""
    return content.zero.fixed or model.indication == GaugeModel.Indication.VERNIER
