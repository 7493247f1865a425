"""Linearity: whether the bias changes over the measuring range.

Lives here: the line of single biases over reference values. May not live here: the fit itself (fits).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labsys.metrology.fits.curve import Curve, fit_curve
from labsys.metrology.studies.bias import BiasStudy, TTest, bias_study, t_test
from labsys.metrology.studies.cube import NoSpreadSeen, enough
from labsys.metrology.studies.variation import expect


@dataclass(frozen=True, slots=True)
class LinearityStudy:
    """What a linearity study found, in the readings' unit.

    ``at`` has the bias at each reference, ``intercept`` and ``slope`` the line bias = a + b·reference with their t
    tests, ``s`` the residual standard deviation with ``df`` degrees of freedom. ``linearity`` is |slope|·process
    variation (None without one), ``percent_linearity`` its share of it. ``zero_line_holds`` says whether zero lies
    within the confidence band of the line at every reference.
    """

    at: tuple[BiasStudy, ...]
    intercept: TTest
    slope: TTest
    s: float
    df: int
    r_squared: float
    mean_bias: float
    linearity: float | None
    percent_linearity: float | None
    zero_line_holds: bool


def linearity_study(
    readings: Mapping[float, Sequence[float]],
    *,
    process_variation: float | None = None,
    confidence: float = 0.95,
) -> LinearityStudy:
    """Fit the single biases of ``readings`` (by reference value) over the reference values, by least squares.

    Two references or more with two readings or more each; ``process_variation`` is six standard deviations of the
    process or the tolerance, in the readings' unit. The intervals hold for one parameter at a time. Source: AIAG MSA,
    4th edition, chapter III section B (results read in a public package's tests). Raises StudyTooSmall, NoSpreadSeen,
    NotANumber, ReadingOutOfReach, BadStudySetting.
    """
    enough(len(readings), 2, "reference values")
    if process_variation is not None:
        holds = math.isfinite(process_variation) and process_variation > 0
        expect(holds, "Process variation", "a finite number above zero", process_variation)
    at = tuple(bias_study(values, reference, confidence=confidence) for reference, values in readings.items())
    places = [one.reference for one in at for _ in range(one.count)]
    errors = [value - reference for reference, values in readings.items() for value in values]
    line = fit_curve(places, errors)
    if line.solution.s == 0:
        raise NoSpreadSeen(where="from the line of the biases")
    slope = _tested(line, 1, confidence)
    return LinearityStudy(
        at=at,
        intercept=_tested(line, 0, confidence),
        slope=slope,
        s=line.solution.s,
        df=line.solution.nu,
        r_squared=line.r_squared or 0.0,
        mean_bias=math.fsum(errors) / len(errors),
        linearity=None if process_variation is None else abs(slope.value) * process_variation,
        percent_linearity=None if process_variation is None else 100 * abs(slope.value),
        zero_line_holds=all(_holds_zero(line, one.reference, confidence) for one in at),
    )


def _tested(line: Curve, place: int, confidence: float) -> TTest:
    error = math.sqrt(line.covariance[place][place])
    return t_test(line.coefficients[place], error, line.solution.nu, confidence)


def _holds_zero(line: Curve, reference: float, confidence: float) -> bool:
    band = line.confidence(reference, probability=confidence)
    return band.lower <= 0 <= band.upper
