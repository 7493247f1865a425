"""Repeatability and reproducibility by averages and ranges, as on the classical sheet.

Lives here: the sheet's intermediate figures and its components. May not live here: the constants (constants.py), the
analysis of variance (crossed.py), which should be preferred.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.metrology.studies.constants import Constants, single_constant, trial_constant
from labsys.metrology.studies.crossed import crossed_array
from labsys.metrology.studies.variation import Breakdown, Scale, break_down


@dataclass(frozen=True, slots=True)
class RangeStudy:
    """What the sheet found, in the readings' unit.

    ``mean_ranges`` R̄ by appraiser, ``mean_range`` their mean, ``means`` X̄ by appraiser, ``mean_difference`` the span
    of these, ``part_range`` the span of the parts' means; ``K1``, ``K2``, ``K3`` as used. The method can't tell the
    interaction from the rest, and no interval with a published formula goes with it.
    """

    mean_ranges: tuple[float, ...]
    mean_range: float
    means: tuple[float, ...]
    mean_difference: float
    part_range: float
    K1: float
    K2: float
    K3: float
    constants: Constants
    breakdown: Breakdown


def range_study(
    readings: Sequence[Sequence[Sequence[float]]],
    *,
    scale: Scale | None = None,
    constants: Constants = Constants.PRINTED,
) -> RangeStudy:
    """Analyse ``readings[part][appraiser][trial]`` by averages and ranges.

    EV = R̄·K1, AV² = (X̄diff·K2)² − EV²/(parts·trials), PV = Rp·K3 (AIAG MSA, 4th edition, chapter III section B; read
    in transcriptions). Raises as ``crossed_study``, and NoConstant.
    """
    array = crossed_array(readings)
    parts, appraisers, trials = array.shape
    ranges = (array.max(axis=2) - array.min(axis=2)).mean(axis=0)
    means, part_means = array.mean(axis=(0, 2)), array.mean(axis=(1, 2))
    K1 = trial_constant(trials, parts * appraisers, constants)
    K2 = single_constant(appraisers, "appraisers", constants)
    K3 = single_constant(parts, "parts", constants)
    difference, part_range = float(means.max() - means.min()), float(part_means.max() - part_means.min())
    repeatability = float(ranges.mean() * K1) ** 2
    estimates = {
        "repeatability": repeatability,
        "appraiser": (difference * K2) ** 2 - repeatability / (parts * trials),
        "part": (part_range * K3) ** 2,
    }
    return RangeStudy(
        mean_ranges=tuple(map(float, ranges)),
        mean_range=float(ranges.mean()),
        means=tuple(map(float, means)),
        mean_difference=difference,
        part_range=part_range,
        K1=K1,
        K2=K2,
        K3=K3,
        constants=constants,
        breakdown=break_down(estimates, ("appraiser",), scale or Scale()),
    )
