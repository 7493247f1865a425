"""Trying a procedure's budget and default rule on the limits its gauges have, before anybody signs it.

Lives here: the trial at the far end of every line of limits, with the weakest standard the procedure admits; of a
series, for each of its results. May not live here: verdicts on results (they belong to measuring).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from functools import partial
from typing import ClassVar

from instruments.inventory.models import GaugeModel
from instruments.inventory.queries.limits import LimitsInForce, limits_at, limits_of_model
from instruments.procedures.content import Content, ResultRule, Series
from instruments.procedures.content import lengths as ways
from instruments.procedures.content.series import OVER_LENGTHS, RESULTS
from instruments.procedures.planner.aims import lengths_of
from instruments.procedures.scales import scale_of, zero_read_to_mm
from labsys.errors import LabError
from labsys.laboratory.models import Family
from labsys.metrology.acceptance import acceptance_limits
from labsys.metrology.characteristics import difference_views
from labsys.metrology.conformance import Spread
from labsys.metrology.evaluation import evaluate
from labsys.metrology.exact import plain
from labsys.metrology.inputs import PointInputs, ReferenceUncertainty, Repeatability
from labsys.metrology.limits import Limits
from labsys.metrology.rules import Rule
from labsys.metrology.specs import specs_from_json
from labsys.metrology.units import Unit, to_mm
from labsys.metrology.views import View, Views
from labsys.pages.figures import said_size

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
        "The default rule doesn't work with this budget: {model}, {function} at {length}. {why} "
        "Change the budget, the rule or the limits before the procedure is approved."
    )


@dataclass(frozen=True, slots=True)
class Trial:
    """What the default rule makes of one line of limits: both budgets, and the acceptance limits.

    ``function`` is a measuring function, or names the result of a series.
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
            trials.extend(trials_of(content, model, limits))
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
                length=said_size(trial.length_mm, trial.model.unit),
                why=trial.why,
            )
    return trials


def trials_of(content: Content, model: GaugeModel, limits: LimitsInForce) -> Iterator[Trial]:
    """Try the budget and the default rule on every line of one model's limits."""
    yield from _over_faces(content, model, limits)
    for series in content.series_for(tuple(model.functions)):
        for rule in series.results:
            if rule.kind != "attribute":
                yield from _of_result(content, series, rule, (model, limits))


def _over_faces(content: Content, model: GaugeModel, limits: LimitsInForce) -> Iterator[Trial]:
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


def _of_result(
    content: Content, series: Series, rule: ResultRule, known: tuple[GaugeModel, LimitsInForce]
) -> Iterator[Trial]:
    """Try one result of a series at the end of every line of its limits that lies within the range."""
    model, in_force = known
    rows = [row for row in in_force.rows if row["function"] == rule.limit]
    for length in sorted({min(Decimal(row["up_to_mm"]), model.range_high_mm) for row in rows}):
        found = limits_at(rows, rule.limit, length)
        if found is not None:
            floor = None if rule.kind in ("error", "deviation") else Decimal(0)
            limits = replace(found, floor=floor, unit=model.quantity.base)
            what = (
                series.name if rule.is_of_each_point else rule.name or f"{series.name}: {RESULTS[rule.kind]}"
            )
            work_out = partial(_views_of, content, series, rule, model)
            yield _tried(Trial(model, what, length, limits, None, None), content, work_out)


def _views_of(
    content: Content, series: Series, rule: ResultRule, model: GaugeModel, length: Decimal
) -> Views:
    specs = specs_from_json(content.budget if series.budget is None else series.budget)
    at_end = _inputs_of(content, series, model, length)
    if rule.is_of_each_point:
        return evaluate(specs, at_end, probability=content.probability)
    over_lengths = rule.kind in OVER_LENGTHS and series.reads == "indication"
    low = model.range_low_mm if over_lengths else length
    at_low = _inputs_of(content, series, model, low)
    if over_lengths and _begins_at_nought(series, model):
        at_low = replace(at_low, references=tuple(replace(one, nominal_mm=low) for one in at_end.references))
    return difference_views(
        specs,
        at_end,
        at_low,
        factor=0.5 if rule.kind == "roundness" else 1.0,
        probability=content.probability,
    )


def _begins_at_nought(series: Series, model: GaugeModel) -> bool:
    """Say whether a length of nought is among those of the series.

    No block makes that: only an element that serves every length does, and then it is the same at both ends. Who has
    blocks alone leaves nought out and compares two of them; that is tried with what is there when a session opens.
    """
    way = series.lengths
    return isinstance(way, ways.FixedList | ways.Segments | ways.Shares) and 0 in lengths_of(way, model)


def _try(content: Content, model: GaugeModel, function: str, length: Decimal, limits: Limits) -> Trial:
    def work_out(at: Decimal) -> Views:
        inputs = _inputs(content, model, function, at)
        return evaluate(specs_from_json(content.budget), inputs, probability=content.probability)

    return _tried(Trial(model, function, length, limits, None, None), content, work_out)


def _tried(trial: Trial, content: Content, work_out: Callable[[Decimal], Views]) -> Trial:
    """Work out both uncertainties and the acceptance limits; a refusal by the core is kept as its sentence."""
    views: Views | None = None
    try:
        views = work_out(trial.length_mm)
        rule = Rule.from_json(content.rule)
        used = views.of(rule.view)
        zone = acceptance_limits(trial.limits, rule, used.U_mm, used.u_mm, spread=Spread.of(used))
    except LabError as refusal:
        return replace(trial, views=views, why=str(refusal))
    return replace(trial, views=views, acceptance=zone)


def _inputs_of(content: Content, series: Series, model: GaugeModel, length: Decimal) -> PointInputs:
    """Give the facts of a point of a series at the worst: the far end of the room, the weakest standard."""
    zeroed = series.reads in ("indication", "difference") and content.zero.how != "none"
    zero = zero_read_to_mm(model, content) / 2 if zeroed and not content.zero.fixed else None
    study = content.repeatability
    return PointInputs(
        length_mm=length,
        reading_half_width_mm=scale_of(series.code, model, content).step_mm / 2,
        alpha_mean_per_k=(model.expansion_per_k + _STEEL_PER_K) / 2,
        temperature_c=_farthest(content),
        references=(_weakest(content, length),) if series.serves and length else (),
        zero_half_width_mm=zero,
        repeatability=None if study is None else Repeatability(study.s_mm, study.degrees_of_freedom),
    )


def _farthest(content: Content) -> Decimal:
    conditions = content.conditions
    ends = (conditions.temperature_low_c, conditions.temperature_high_c)
    return max(ends, key=lambda t: abs(t - _REFERENCE_C))


def _weakest(content: Content, length: Decimal) -> ReferenceUncertainty:
    return ReferenceUncertainty(
        certificate="weakest",
        label=f"weakest {plain(length):f}",
        nominal_mm=length,
        U_mm=content.references.most_U_mm(length),
        k=_K,
        years_since_calibration=_YEARS,
    )


def _inputs(content: Content, model: GaugeModel, function: str, length: Decimal) -> PointInputs:
    study = content.repeatability
    readable_step = model.resolution / content.readable_parts.get(model.indication, 1)
    return PointInputs(
        length_mm=length,
        reading_half_width_mm=to_mm(readable_step, Unit(model.unit)) / 2,
        alpha_mean_per_k=(model.expansion_per_k + _STEEL_PER_K) / 2,
        temperature_c=_farthest(content),
        references=(_weakest(content, length),),
        joints=content.points.stack_at_most - 1 if content.points and function == "outside" else 0,
        zero_half_width_mm=None if content.zero.fixed else model.step_mm / 2,
        repeatability=None if study is None else Repeatability(study.s_mm, study.degrees_of_freedom),
    )
