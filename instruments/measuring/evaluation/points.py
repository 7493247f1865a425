"""What the readings of one point say: the error, both uncertainties, the verdict; and the zero where it is an error.

Lives here: one point. May not live here: results of several points (together.py), whole runs (runs.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.measuring.evaluation.evaluated import Evaluated
from instruments.measuring.evaluation.ground import Ground
from instruments.measuring.models import Point, PointReference, Reading, Result
from instruments.measuring.zeros import set_to_mm
from instruments.procedures.content import Series
from instruments.procedures.content import parts as content_parts
from instruments.procedures.scales import scale_of, zero_scale
from labsys.metrology.characteristics import Rounds, rounds_of
from labsys.metrology.decision import decide
from labsys.metrology.error import Reference, error_of_indication, reference_length
from labsys.metrology.evaluation import evaluate
from labsys.metrology.inputs import Basis as ReferenceBasis
from labsys.metrology.inputs import PointInputs, ReferenceUncertainty, Repeatability
from labsys.metrology.limits import Limits, within_limits
from labsys.metrology.repeats import judge_repeats
from labsys.metrology.verdicts import Verdict

DAYS_PER_YEAR = 365.25


def evaluate_point(point: Point, ground: Ground) -> Evaluated | None:
    """Evaluate one point by its readings that count; None while there are none."""
    readings = counting(point)
    order = _order(ground.content.series_of(point.function))
    return judge(point, ground, readings) if len(readings) >= max(1, len(order)) else None


def prospect_of(point: Point, ground: Ground) -> Evaluated:
    """Evaluate a point as if its error were nought: the length, limits and uncertainty it will be judged with."""
    return judge(point, ground, [])


def counting(point: Point) -> list[Reading]:
    """Give the readings of a point that are not struck, in the order they were taken."""
    return [reading for reading in point.readings.all() if not hasattr(reading, "strike")]


def judge(point: Point, ground: Ground, readings: Sequence[Reading]) -> Evaluated:
    """Judge a point by these readings; by an error of nought where there are none."""
    series, rule = ground.content.series_of(point.function), ground.rule_of(point.function)
    limit = point.function if rule is None else rule.limit
    if rule is not None and rule.kind == Result.Kind.ATTRIBUTE:
        return _fit(point, limit, readings)
    limits = ground.limits_for(rule, point.nominal_mm)
    references = list(point.references.all())
    length = _length_mm(point, references, series)
    held = _held_mm(point, length, series, None if rule is None else rule.kind)
    rounds = _rounds(series, readings)
    shown = [reading.value_mm for reading in readings] if rounds is None else rounds.differences_mm
    errors = [error_of_indication(reading_mm=value, length_mm=held, temperatures=None) for value in shown]
    judged = judge_repeats(
        errors or [Decimal(0)], limits=limits, spread_limit_mm=ground.content.spread_limit_at(point.function)
    )
    if rounds is not None:
        judged = replace(judged, error_mm=rounds.mean_mm - held)
    inputs = _with_rounds(_inputs(length, references, ground, point.function), rounds)
    views = evaluate(ground.specs_of(point.function), inputs, probability=ground.content.probability)
    return decided(
        Evaluated(
            point=point,
            kind=Result.Kind.ERROR if rule is None else rule.kind,
            function=limit,
            length_mm=length,
            held_mm=held,
            reading=readings[judged.index] if readings else None,
            error_mm=judged.error_mm,
            repeats=judged,
            limits=limits,
            views=views,
            inputs=inputs,
            in_rounds=bool(_order(series)),
        ),
        ground,
    )


def decided(found: Evaluated, ground: Ground) -> Evaluated:
    """Add the verdict, where a limit is agreed."""
    if found.views is None or found.limits.lower is None and found.limits.upper is None:
        return found
    decision = decide(
        error_mm=found.error_mm, limits=found.limits, rule=ground.decision_rule, views=found.views
    )
    return replace(
        found,
        decision=decision,
        verdict=decision.verdict,
        within_limits=within_limits(found.error_mm, found.limits),
    )


def _order(series: Series | None) -> str:
    return "" if series is None else series.order


def _rounds(series: Series | None, readings: Sequence[Reading]) -> Rounds | None:
    """Take the readings as rounds of reference and gauge, where the series is read so."""
    order = _order(series)
    return rounds_of([reading.value_mm for reading in readings], order) if order else None


def _with_rounds(inputs: PointInputs, rounds: Rounds | None) -> PointInputs:
    """Put the standard deviation of the mean of several rounds in the place of the study, where it is the larger."""
    if rounds is None or rounds.s_mm is None:
        return inputs
    count, study = len(rounds.differences_mm), inputs.repeatability
    found = Repeatability(s_mm=rounds.s_mm / math.sqrt(count), nu=count - 1)
    if study is not None and float(study.s_mm) / math.sqrt(count) >= float(found.s_mm):
        found = Repeatability(s_mm=float(study.s_mm) / math.sqrt(count), nu=study.nu)
    return replace(inputs, repeatability=found)


def _fit(point: Point, limit: str, readings: Sequence[Reading]) -> Evaluated:
    """Judge whether it fits: every time it was tried, or not at all. Nothing was measured, so there is no U."""
    misses = [reading for reading in readings if not reading.value]
    fits = not misses
    return Evaluated(
        point=point,
        kind=Result.Kind.ATTRIBUTE,
        function=limit,
        length_mm=point.nominal_mm,
        held_mm=Decimal(0),
        reading=next(iter(misses or readings), None),
        error_mm=Decimal(1 if fits else 0),
        repeats=None,
        limits=Limits(None, None),
        views=None,
        inputs=None,
        verdict=Verdict.IN_TOLERANCE if fits else Verdict.OUT_OF_TOLERANCE,
        within_limits=fits,
    )


def _length_mm(point: Point, references: Sequence[PointReference], series: Series | None) -> Decimal:
    """Give the length the references make together; the nominal one where nothing of that length is held against."""
    nominal: Decimal = point.nominal_mm
    if not references or (series is not None and series.reads not in ("indication", "difference")):
        return nominal
    return reference_length([Reference(r.nominal_mm, r.deviation_mm, r.count) for r in references])


def _held_mm(point: Point, length_mm: Decimal, series: Series | None, kind: str | None) -> Decimal:
    """Give what a reading is held against, in mm.

    The reference, of an indication; of a difference shown by a comparator, what the nominal size would show on this
    reference; the nominal size where the size itself is read; nought for a value.
    """
    if series is None or series.reads == "indication":
        return length_mm
    if series.reads == "difference":
        return Decimal(point.nominal_mm - length_mm)
    return Decimal(0) if kind == Result.Kind.VALUE else Decimal(point.nominal_mm)


def _inputs(length_mm: Decimal, references: list[PointReference], ground: Ground, code: str) -> PointInputs:
    content, model = ground.content, ground.model
    study, series = content.repeatability, content.series_of(code)
    zeroed = series is None or series.reads in ("indication", "difference")
    return PointInputs(
        length_mm=length_mm,
        reading_half_width_mm=scale_of(code, model, content).step_mm / 2,
        alpha_mean_per_k=_mean_expansion(references, model),
        temperature_c=ground.temperature_c,
        references=tuple(_uncertainty(reference, ground.today) for reference in references),
        joints=max(0, sum(reference.count for reference in references) - 1),
        zero_half_width_mm=ground.zero_half_width_mm if zeroed else None,
        repeatability=None if study is None else _study(study),
    )


def _study(found: content_parts.Repeatability) -> Repeatability:
    return Repeatability(s_mm=found.s_mm, nu=found.degrees_of_freedom)


def _mean_expansion(references: list[PointReference], model: GaugeModel) -> Decimal:
    """Average the expansion of the gauge and of its references (per kelvin); the gauge's own where none is known."""
    known = [
        coefficient
        for reference in references
        if (coefficient := reference.element_value.element.standard.expansion_per_k) is not None
    ]
    standards = sum(known, Decimal(0)) / len(known) if known else model.expansion_per_k
    return (model.expansion_per_k + standards) / 2


def _uncertainty(reference: PointReference, today: date) -> ReferenceUncertainty:
    value = reference.element_value
    return ReferenceUncertainty(
        certificate=f"calibration:{value.calibration_id}",
        label=f"{value.element.standard.tag} {value.element.label}",
        nominal_mm=reference.nominal_mm,
        basis=ReferenceBasis(value.basis),
        U_mm=value.U_mm or Decimal(0),
        k=value.k or Decimal(2),
        nu=float(value.degrees_of_freedom) if value.degrees_of_freedom else math.inf,
        limit_mm=value.limit_mm or Decimal(0),
        sensitivity=float(reference.sensitivity),
        count=reference.count,
        years_since_calibration=max(0.0, (today - value.calibration.calibrated_on).days / DAYS_PER_YEAR),
    )


def evaluate_zero(value_mm: Decimal, ground: Ground) -> Evaluated:
    """Judge the zero of a gauge that can't be set: it is an error like any other."""
    expected = set_to_mm(ground.model, ground.content)
    error = error_of_indication(reading_mm=value_mm, length_mm=expected, temperatures=None)
    limits = ground.limits_at(_limit_of_zero(ground), expected)
    inputs = PointInputs(
        length_mm=expected,
        reading_half_width_mm=zero_scale(ground.model, ground.content).step_mm / 2,
        alpha_mean_per_k=ground.model.expansion_per_k,
        temperature_c=ground.temperature_c,
        repeatability=None if ground.content.repeatability is None else _study(ground.content.repeatability),
    )
    return decided(
        Evaluated(
            point=None,
            kind=Result.Kind.ERROR,
            function="zero",
            length_mm=expected,
            held_mm=expected,
            reading=None,
            error_mm=error,
            repeats=judge_repeats([error], limits=limits),
            limits=limits,
            views=evaluate(ground.specs_of(), inputs, probability=ground.content.probability),
            inputs=inputs,
        ),
        ground,
    )


def _limit_of_zero(ground: Ground) -> str:
    """Give the line of limits of a zero: that of outside lengths, or of the first series with an error."""
    rules = [rule for one in ground.content.series if (rule := one.point_rule) and rule.kind == "error"]
    return "outside" if ground.content.points is not None or not rules else rules[0].limit
