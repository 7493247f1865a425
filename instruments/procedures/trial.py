"""Trying a procedure's budget and default rule on the limits its gauges have, before anybody signs it.

Lives here: the trial at the far end of every line of limits, with the weakest standard the procedure admits. May not
live here: verdicts on results (they belong to measuring).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import ClassVar

from instruments.inventory.models import GaugeModel
from instruments.inventory.queries.limits import LimitsInForce, limits_at, limits_of_model
from instruments.procedures.content import Content
from labsys.errors import LabError
from labsys.laboratory.models import Family
from labsys.metrology.acceptance import acceptance_limits
from labsys.metrology.conformance import Spread
from labsys.metrology.evaluation import evaluate
from labsys.metrology.inputs import PointInputs, ReferenceUncertainty, Repeatability
from labsys.metrology.limits import Limits
from labsys.metrology.rules import Rule
from labsys.metrology.specs import specs_from_json
from labsys.metrology.units import Unit, to_mm
from labsys.metrology.views import View, Views

# The weakest standard the procedure admits: its U with k = 2, calibrated a year ago, of steel like most blocks.
_K = Decimal(2)
_YEARS = 1
_STEEL_PER_K = Decimal("0.0000115")
_REFERENCE_C = Decimal(20)


class RuleNotWorkable(LabError, ValueError):
    """The default rule can't accept anything, or can't be applied, for a gauge the procedure is for."""

    code: ClassVar[str] = "rule-not-workable"
    field: ClassVar[str | None] = "content"
    sentence: ClassVar[str] = (
        "The default rule doesn't work with this budget: {model}, {function} at {length} mm. {why} "
        "Change the budget, the rule or the limits before the procedure is approved."
    )


@dataclass(frozen=True, slots=True)
class Trial:
    """What the default rule makes of one line of limits: both budgets, and the acceptance limits.

    ``views`` is None where the budget can't be worked out, ``acceptance`` where the rule can't be applied; ``why``
    then says so.
    """

    model: GaugeModel
    function: str
    length_mm: Decimal
    limits: Limits
    views: Views | None
    acceptance: Limits | None
    why: str = ""

    @property
    def U_mm(self) -> float | None:
        """Give U of the calibration, in mm."""
        return None if self.views is None else self.views.of(View.CALIBRATION).U_mm

    @property
    def U_test_mm(self) -> float | None:
        """Give U of the test value, in mm."""
        return None if self.views is None else self.views.of(View.TEST_VALUE).U_mm


def try_out(content: Content, family: Family, at: datetime) -> list[Trial]:
    """Try the budget and the default rule on every line of the limits in force of the family's models.

    Empty where no model has limits yet: there is nothing to try on, and the page says so.
    """
    trials: list[Trial] = []
    for model in GaugeModel.objects.filter(family=family).select_related("family"):
        limits = limits_of_model(model, at)
        if limits is not None:
            trials.extend(_of_model(content, model, limits))
    return trials


def require_workable(content: Content, family: Family, at: datetime) -> list[Trial]:
    """Refuse a content whose default rule leaves nothing to accept; raises RuleNotWorkable for the first such line.

    Gives the trials, none of which was refused.
    """
    trials = try_out(content, family, at)
    for trial in trials:
        if trial.acceptance is None:
            raise RuleNotWorkable(
                model=str(trial.model),
                function=trial.function.replace("_", " "),
                length=f"{trial.length_mm.normalize():f}",
                why=trial.why,
            )
    return trials


def _of_model(content: Content, model: GaugeModel, limits: LimitsInForce) -> Iterator[Trial]:
    if content.points is None:
        return
    for function in content.points.functions_of(tuple(model.functions), model.inside_jaws):
        for length in _lengths(content, model, limits, function):
            found = limits_at(limits.rows, function, length)
            if found is not None:
                yield _try(content, model, function, length, found)


def _lengths(content: Content, model: GaugeModel, limits: LimitsInForce, function: str) -> list[Decimal]:
    """Give the longest length within the range of each line of limits, where U is largest; one for other functions."""
    if function != "outside":
        assert content.points is not None, "tried only where there are rules for the faces"
        window = content.points.windows[function]
        return [window.prefer_mm or window.to_mm]
    ends = [Decimal(row["up_to_mm"]) for row in limits.rows if row["function"] == function]
    return sorted({min(end, model.range_high_mm) for end in ends})


def _try(content: Content, model: GaugeModel, function: str, length: Decimal, limits: Limits) -> Trial:
    """Work out both uncertainties and the acceptance limits; a refusal by the core is kept as its sentence."""
    views: Views | None = None
    try:
        views = evaluate(
            specs_from_json(content.budget),
            _inputs(content, model, function, length),
            probability=content.probability,
        )
        rule = Rule.from_json(content.rule)
        used = views.of(rule.view)
        zone = acceptance_limits(limits, rule, used.U_mm, used.u_mm, spread=Spread.of(used))
    except LabError as refusal:
        return Trial(model, function, length, limits, views, None, str(refusal))
    return Trial(model, function, length, limits, views, zone)


def _inputs(content: Content, model: GaugeModel, function: str, length: Decimal) -> PointInputs:
    study = content.repeatability
    conditions = content.conditions
    farthest = max(
        (conditions.temperature_low_c, conditions.temperature_high_c), key=lambda t: abs(t - _REFERENCE_C)
    )
    reference = ReferenceUncertainty(
        certificate="weakest",
        label="weakest",
        nominal_mm=length,
        U_mm=content.references.most_U_mm(length),
        k=_K,
        years_since_calibration=_YEARS,
    )
    readable_step = model.resolution / content.readable_parts.get(model.indication, 1)
    return PointInputs(
        length_mm=length,
        reading_half_width_mm=to_mm(readable_step, Unit(model.unit)) / 2,
        alpha_mean_per_k=(model.expansion_per_k + _STEEL_PER_K) / 2,
        temperature_c=farthest,
        references=(reference,),
        joints=content.points.stack_at_most - 1 if content.points and function == "outside" else 0,
        zero_half_width_mm=None if content.zero.fixed else model.step_mm / 2,
        repeatability=None if study is None else Repeatability(study.s_mm, study.degrees_of_freedom),
    )
