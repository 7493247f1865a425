"""A digital caliper's components and points, as the worked examples have them."""

from __future__ import annotations

import statistics
from decimal import Decimal

from labsys.metrology.inputs import Basis, PointInputs, ReferenceUncertainty, Repeatability
from labsys.metrology.specs import (
    Drift,
    ExpansionDifference,
    Geometry,
    Reading,
    Spec,
    StandardValue,
    TemperatureDifference,
    Wringing,
    Zero,
)

CALIPER: tuple[Spec, ...] = (
    StandardValue(name="reference block", source="grade limit or certificate"),
    Drift(
        name="change since calibration", constant_mm_per_year=5e-5, per_mm_per_year=5e-7, source="no source"
    ),
    TemperatureDifference(name="block and caliper not equally warm", half_width_k=0.5, source="no source"),
    ExpansionDifference(
        name="coefficients not alike", half_width_per_k=2e-6, temperature_half_width_k=1.0, source="no source"
    ),
    Zero(name="zero", source="half a step"),
    Reading(name="reading"),
    Geometry(name="jaws and force", half_width_mm=0.005, source="half of the accepted spread"),
    Wringing(name="joints", half_width_mm=5e-5, source="no source"),
)
GRADE_1_LIMIT_MM = {25: 0.0003, 50: 0.0004, 150: 0.0008}


def repeatability(closings_mm: list[Decimal]) -> Repeatability:
    """Make the standard deviation of one reading out of repeated closings."""
    return Repeatability(statistics.stdev(closings_mm), len(closings_mm) - 1)


def grade_1_block(nominal_mm: Decimal | float, limit_mm: float) -> ReferenceUncertainty:
    """Make one grade 1 block, used at nominal, calibrated a year ago."""
    return ReferenceUncertainty(
        certificate="C-1",
        label=f"{nominal_mm} mm",
        nominal_mm=nominal_mm,
        basis=Basis.GRADE_LIMIT,
        limit_mm=limit_mm,
        years_since_calibration=1.0,
    )


def on_a_block(
    length_mm: Decimal | float, step_mm: Decimal, *, limit_mm: float, closings_mm: list[Decimal] | None = None
) -> PointInputs:
    """Make the facts of a point on one block at 20 °C, zero set to half a step."""
    return PointInputs(
        length_mm=length_mm,
        reading_half_width_mm=step_mm / 2,
        alpha_mean_per_k=11.5e-6,
        temperature_c=20.0,
        references=(grade_1_block(length_mm, limit_mm),),
        zero_half_width_mm=step_mm / 2,
        repeatability=None if closings_mm is None else repeatability(closings_mm),
    )
