"""What every point of one run is judged with.

Lives here: content, limits and rule, temperature, the zero's half-width. May not live here: a verdict.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from statistics import fmean

from instruments.inventory.models import GaugeModel
from instruments.measuring.basis import Basis
from instruments.measuring.evaluation.evaluated import limits_with_floor
from instruments.measuring.models import Run, ZeroCheck
from instruments.measuring.rooms import conditions_while_measuring
from instruments.measuring.zeros import has_zero, holds, is_fixed, moved_mm
from instruments.procedures.content import Content
from instruments.procedures.content.series import ResultRule
from instruments.procedures.queries import content_of
from instruments.procedures.scales import zero_read_to_mm
from labsys.laboratory.queries import local_date
from labsys.metrology.limits import Limits
from labsys.metrology.rules import Rule
from labsys.metrology.specs import Spec, specs_from_json
from labsys.metrology.units import Unit
from labsys.metrology.zero import zero_half_width

NO_LIMITS = Limits(None, None)


@dataclass(frozen=True)
class Ground:
    """What every point of one run is judged with, read once."""

    content: Content
    basis: Basis
    model: GaugeModel
    temperature_c: float
    zero_half_width_mm: Decimal | None
    today: date

    @cached_property
    def decision_rule(self) -> Rule:
        """Give the agreed decision rule, read once."""
        return self.basis.decision_rule()

    @cached_property
    def _budget(self) -> tuple[Spec, ...]:
        return specs_from_json(self.content.budget)

    @cached_property
    def _budgets(self) -> dict[str, tuple[Spec, ...]]:
        own = ((one.code, one.budget) for one in self.content.series)
        return {code: specs_from_json(budget) for code, budget in own if budget is not None}

    def specs_of(self, code: str = "") -> tuple[Spec, ...]:
        """Give the components of a point: those of its series, otherwise the procedure's."""
        return self._budgets.get(code, self._budget)

    def rule_of(self, code: str) -> ResultRule | None:
        """Give the result that a point of this series or function has; None where only several have one."""
        one = self.content.series_of(code)
        return ResultRule("error", code) if one is None else one.point_rule

    def limits_for(self, rule: ResultRule | None, nominal_mm: Decimal) -> Limits:
        """Give the limits of a result at a length, none where it has none; raises NoLimitForFunction."""
        if rule is None:
            return NO_LIMITS
        return limits_with_floor(rule.kind, self.limits_at(rule.limit, nominal_mm))

    def limits_at(self, function: str, length_mm: Decimal) -> Limits:
        """Give the limits of a line for a length; raises NoLimitForFunction."""
        return self.basis.limits_at(function, length_mm, Unit(self.model.unit))


def ground_of(run: Run) -> Ground:
    """Read what all points of a run share: content, limits and rule, temperature, the zero's half-width."""
    session = run.session
    content = content_of(session.revision)
    conditions = [float(row.temperature_c) for row in conditions_while_measuring(run)]
    model = session.gauge.model
    return Ground(
        content=content,
        basis=Basis.load(session.basis),
        model=model,
        temperature_c=fmean(conditions) if conditions else 20.0,
        zero_half_width_mm=_zero_half_width(run, model, content),
        today=local_date(run.opened_at),
    )


def _zero_half_width(run: Run, model: GaugeModel, content: Content) -> Decimal | None:
    """Give half a step or the largest closing zero that held; None where the zero isn't set by anybody."""
    if is_fixed(model, content) or not has_zero(content):
        return None
    closings = (row for row in run.zero_checks.all() if row.kind == ZeroCheck.Kind.CLOSING)
    held = [moved_mm(row) for row in closings if holds(row)]
    return zero_half_width(zero_read_to_mm(model, content), max(held, key=abs, default=None))
