"""What a zero reading means for its gauge: whether there is one, what it should read, whether it holds."""

from __future__ import annotations

from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.measuring.models import Run, ZeroCheck
from instruments.procedures.content import Content
from instruments.procedures.queries import content_of
from instruments.procedures.scales import zero_scale
from labsys.metrology.zero import zero_holds


def has_zero(content: Content) -> bool:
    """Say whether gauges of this procedure have a zero at all; a plug has none."""
    return content.zero.how != "none"


def is_fixed(model: GaugeModel, content: Content) -> bool:
    """Say whether the gauge's zero can't be set: then what it reads as found is an error and counts."""
    judged = content.points is not None or content.zero.how == "plate"
    by_eye = judged and model.indication == GaugeModel.Indication.VERNIER
    return has_zero(content) and (content.zero.fixed or by_eye)


def expected_mm(run: Run, model: GaugeModel, content: Content) -> Decimal:
    """Give what the zero should read, in mm: nought, the low end of the range, or as found where it can't be set."""
    if is_fixed(model, content):
        rows = [row for row in run.zero_checks.all() if row.kind == ZeroCheck.Kind.AS_FOUND]
        return rows[0].value_mm if rows else Decimal(0)
    return set_to_mm(model, content)


def set_to_mm(model: GaugeModel, content: Content) -> Decimal:
    """Give what a zero that is set reads afterwards, in mm: the low end of the range where it is set there."""
    return Decimal(model.range_low_mm) if content.zero.how == "low-end" else Decimal(0)


def moved_mm(zero: ZeroCheck) -> Decimal:
    """Give by how much a zero differs from what it should read, in mm."""
    session = zero.run.session
    value: Decimal = zero.value_mm
    return value - expected_mm(zero.run, session.gauge.model, content_of(session.revision))


def holds(zero: ZeroCheck) -> bool:
    """Say whether a closing zero lies within the steps that the procedure allows (one, unless it says otherwise)."""
    session = zero.run.session
    content, model = content_of(session.revision), session.gauge.model
    step_mm = zero_scale(model, content).step_mm
    return zero_holds(moved_mm(zero), step_mm, allowed_steps=content.zero.allowed_steps)
