"""The bridge from readings to the numbers: what a point's readings say, with both uncertainties and the verdict.

Everything is computed from stored rows and frozen content; nothing is stored here, so the bench can ask at any time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from statistics import fmean
from typing import Any

from django.db.models import QuerySet

from instruments.inventory.models import GaugeModel
from instruments.measuring.basis import Basis
from instruments.measuring.models import Point, PointReference, Reading, Run, ZeroCheck
from instruments.measuring.rooms import conditions_while_measuring
from instruments.measuring.zeros import holds, is_fixed
from instruments.procedures.content import Content
from instruments.procedures.content import parts as content_parts
from instruments.procedures.queries import content_of
from labsys.laboratory.queries import local_date
from labsys.metrology.decision import Decision, decide
from labsys.metrology.error import Reference, error_of_indication, reference_length
from labsys.metrology.evaluation import evaluate
from labsys.metrology.inputs import Basis as ReferenceBasis
from labsys.metrology.inputs import PointInputs, ReferenceUncertainty, Repeatability
from labsys.metrology.limits import Limits, within_limits
from labsys.metrology.repeats import Repeats, judge_repeats
from labsys.metrology.specs import specs_from_json
from labsys.metrology.units import Unit, to_mm
from labsys.metrology.views import Views
from labsys.metrology.zero import zero_half_width

DAYS_PER_YEAR = 365.25


@dataclass(frozen=True)
class Evaluated:
    """What the readings of one point say. ``reading`` is the one judged: of several, that with the least margin."""

    point: Point | None
    function: str
    length_mm: Decimal
    reading: Reading | None
    error_mm: Decimal
    repeats: Repeats
    limits: Limits
    views: Views
    decision: Decision
    within_limits: bool

    def decision_json(self) -> dict[str, Any]:
        """Give every figure of the verdict, ready to store."""
        zone = self.decision.acceptance
        return {
            "verdict": str(self.decision.verdict),
            "acceptance_lower_mm": zone.lower,
            "acceptance_upper_mm": zone.upper,
            "margin_mm": self.decision.margin_mm,
            "ratio": self.decision.ratio,
            "conformance_probability": self.decision.conformance_probability,
            "U_used_mm": self.decision.U_used_mm,
            "view": str(self.decision.view),
            "note": self.decision.note,
            "length_mm": self.length_mm,
            "spread_mm": self.repeats.spread_mm,
        }


@dataclass(frozen=True)
class Ground:
    """What every point of one run is judged with, read once."""

    content: Content
    basis: Basis
    model: GaugeModel
    temperature_c: float
    zero_half_width_mm: Decimal | None
    today: date


def ground_of(run: Run) -> Ground:
    """Read what all points of a run share: content, limits and rule, temperature, the zero's half-width."""
    session = run.session
    content = content_of(session.revision)
    conditions = [float(row.temperature_c) for row in conditions_while_measuring(run)]
    model = session.gauge.model
    held = [z.value_mm for z in run.zero_checks.all() if z.kind == ZeroCheck.Kind.CLOSING and holds(z)]
    return Ground(
        content=content,
        basis=Basis.load(session.basis),
        model=model,
        temperature_c=fmean(conditions) if conditions else 20.0,
        zero_half_width_mm=(
            None
            if is_fixed(model, content)
            else zero_half_width(model.step_mm, max(held, key=abs, default=None))
        ),
        today=local_date(run.opened_at),
    )


def evaluate_run(run: Run) -> list[Evaluated]:
    """Evaluate every live point of a run that has a reading that counts, and the zero where it can't be set."""
    ground = ground_of(run)
    points = _with_references(run)
    found = [evaluate_point(point, ground) for point in points]
    return [*_fixed_zero(run, ground), *(item for item in found if item is not None)]


def evaluate_point(point: Point, ground: Ground) -> Evaluated | None:
    """Evaluate one point by its readings that count; None while there are none."""
    readings = [reading for reading in point.readings.all() if not hasattr(reading, "strike")]
    if not readings:
        return None
    return _judge(point, ground, readings)


def prospect_of(point: Point, ground: Ground) -> Evaluated:
    """Evaluate a point as if its error were nought: the length, limits and uncertainty it will be judged with."""
    return _judge(point, ground, [])


def _judge(point: Point, ground: Ground, readings: list[Reading]) -> Evaluated:
    references = list(point.references.all())
    length = reference_length([Reference(r.nominal_mm, r.deviation_mm, r.count) for r in references])
    limits = ground.basis.limits_at(point.function, point.nominal_mm)
    errors = [
        error_of_indication(reading_mm=reading.value_mm, length_mm=length, temperatures=None)
        for reading in readings
    ]
    judged = judge_repeats(
        errors or [Decimal(0)], limits=limits, spread_limit_mm=ground.content.spread_limit_mm
    )
    views = _views(length, references, ground)
    rule = ground.basis.decision_rule()
    return Evaluated(
        point=point,
        function=point.function,
        length_mm=length,
        reading=readings[judged.index] if readings else None,
        error_mm=judged.error_mm,
        repeats=judged,
        limits=limits,
        views=views,
        decision=decide(error_mm=judged.error_mm, limits=limits, rule=rule, views=views),
        within_limits=within_limits(judged.error_mm, limits),
    )


def try_rule(run: Run) -> None:
    """Refuse at the start what could never be decided: raises AccuracyRatioTooLow or EmptyAcceptanceZone.

    Every laid-out point is judged as if its error were nought, with the uncertainty it will have at 20 °C.
    """
    ground = ground_of(run)
    for point in _with_references(run):
        prospect_of(point, ground)


def _with_references(run: Run) -> QuerySet[Point]:
    return Point.objects.filter(run=run, void=None).prefetch_related(
        "readings__strike",
        "references__element_value__calibration",
        "references__element_value__element__standard__tag",
    )


def _views(length_mm: Decimal, references: list[PointReference], ground: Ground) -> Views:
    content, model = ground.content, ground.model
    repeatability = content.repeatability
    inputs = PointInputs(
        length_mm=length_mm,
        reading_half_width_mm=to_mm(readable_step(model, content), Unit(model.unit)) / 2,
        alpha_mean_per_k=_mean_expansion(references, model),
        temperature_c=ground.temperature_c,
        references=tuple(_uncertainty(reference, ground.today) for reference in references),
        joints=max(0, sum(reference.count for reference in references) - 1),
        zero_half_width_mm=ground.zero_half_width_mm,
        repeatability=None if repeatability is None else _study(repeatability),
    )
    return evaluate(specs_from_json(content.budget), inputs, probability=content.probability)


def _study(found: content_parts.Repeatability) -> Repeatability:
    return Repeatability(s_mm=found.s_mm, nu=found.degrees_of_freedom)


def readable_step(model: GaugeModel, content: Content) -> Decimal:
    """Give the smallest difference that can be read, in the unit shown: one step, or a part of a division."""
    parts = content.readable_parts.get(model.indication, 1)
    return Decimal(model.resolution / parts)


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


def _fixed_zero(run: Run, ground: Ground) -> list[Evaluated]:
    found = [z for z in run.zero_checks.all() if z.kind == ZeroCheck.Kind.AS_FOUND]
    if not found or not is_fixed(ground.model, ground.content):
        return []
    return [evaluate_zero(found[0].value_mm, ground)]


def evaluate_zero(value_mm: Decimal, ground: Ground) -> Evaluated:
    """Judge the closed reading of a gauge whose zero can't be set: it is an error like any other."""
    error = error_of_indication(reading_mm=value_mm, length_mm=Decimal(0), temperatures=None)
    limits = ground.basis.limits_at("outside", Decimal(0))
    views = _views(Decimal(0), [], ground)
    return Evaluated(
        point=None,
        function="zero",
        length_mm=Decimal(0),
        reading=None,
        error_mm=error,
        repeats=judge_repeats([error], limits=limits),
        limits=limits,
        views=views,
        decision=decide(error_mm=error, limits=limits, rule=ground.basis.decision_rule(), views=views),
        within_limits=within_limits(error, limits),
    )


def is_out_of_tolerance(reading: Reading) -> bool:
    """Say whether one reading, by itself, is out of tolerance under the session's rule."""
    point = reading.point
    ground = ground_of(point.run)
    length = reference_length(
        [Reference(r.nominal_mm, r.deviation_mm, r.count) for r in point.references.all()]
    )
    error = error_of_indication(reading_mm=reading.value_mm, length_mm=length, temperatures=None)
    limits = ground.basis.limits_at(point.function, point.nominal_mm)
    return not within_limits(error, limits)
