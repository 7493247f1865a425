"""``fit``: a calibration curve through points, read forwards and backwards, and when it reaches a limit.

Fields:
    x, y: the points, two lists of one length
    u: standard uncertainty of each y, which weights the fit (left out: all alike)
    scatter: what spreads the values, residual or stated (residual)
    degree: highest power, 1 for a straight line (1)
    at: places at which the curve is told with its intervals (none)
    read: values to read back, each as its place with its uncertainty (none)
    readings: how many readings each value to predict or to read back is the mean of (1)
    u_new: standard uncertainty of one further value, needed to predict and to read back with a weighted fit, with
        scatter residual as a ratio like the others; without weights it takes the place of s (left out)
    lower, upper: limits whose crossing beyond the last point is looked for (none)
    guard: by how much the limits are drawn in, such as U (0)
    probability: of the intervals (0.95)

Answers:
    coefficients, u, covariance: of 1, x, x² …
    s, nu: residual standard deviation and its degrees of freedom
    r_squared, residual_sum, regression_sum, F: sums of squares and their ratio
    at: for each place value, u, k, confidence and prediction (half-widths), is_extrapolated
    read: for each value x, u, k, U, exact (limits by Fieller for a line), is_extrapolated
    crossing: mean_time, prediction_time, last_seen, where limits were given
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict

from labsys.metrology.fits.crossing import predict_crossing
from labsys.metrology.fits.curve import Curve, fit_curve
from labsys.metrology.fits.inverse import read_back
from labsys.metrology.fits.least_squares import Scatter
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.numbers import maybe

SOURCES = ("NIST/SEMATECH e-Handbook, 4.5 and 2.3.6", "JCGM 100:2008, H.3")


def answer(fields: Fields) -> Answer:
    """Fit and tell; raises QuestionUnreadable and what the fit refuses."""
    x, y = fields.numbers("x"), fields.numbers("y")
    curve = fit_curve(
        x,
        y,
        degree=fields.count("degree", 1, at_least=1),
        u=fields.numbers("u") if fields.has("u") else None,
        scatter=fields.one_of("scatter", Scatter, Scatter.RESIDUAL),
    )
    p, count = fields.probability("probability", 0.95), fields.count("readings", 1, at_least=1)
    u_new = maybe(fields, "u_new", above=0.0)
    values: dict[str, object] = {
        **_curve(curve),
        "at": [_at(curve, one, p, count, u_new) for one in fields.numbers("at", [])],
        "read": [_read(curve, one, p, count, u_new) for one in fields.numbers("read", [])],
    }
    lower, upper, guard = maybe(fields, "lower"), maybe(fields, "upper"), fields.number("guard", 0)
    if lower is not None or upper is not None:
        found = predict_crossing(curve, lower=lower, upper=upper, probability=p, guard=guard, u_new=u_new)
        values["crossing"] = asdict(found)
    fields.finish()
    step = Step("least squares of the points, by QR of centred and scaled powers", curve.coefficients)
    return Answer(values, (step,), SOURCES)


def _curve(curve: Curve) -> Mapping[str, object]:
    solution, covariance = curve.solution, curve.covariance
    mean_square = solution.s**2
    explained = curve.regression_sum / curve.degree
    return {
        "coefficients": curve.coefficients,
        "u": [math.sqrt(max(0.0, row[place])) for place, row in enumerate(covariance)],
        "covariance": covariance,
        "s": solution.s,
        "nu": solution.nu,
        "r_squared": curve.r_squared,
        "residual_sum": curve.residual_sum,
        "regression_sum": curve.regression_sum,
        "F": explained / mean_square if mean_square > 0 else None,
    }


def _at(curve: Curve, x: float, p: float, count: int, u_new: float | None) -> Mapping[str, object]:
    sure = curve.confidence(x, probability=p)
    next_one = curve.prediction(x, probability=p, count=count, u_new=u_new)
    return {
        "x": x,
        "value": sure.middle,
        "u": sure.u,
        "k": sure.factor,
        "confidence": sure.factor * sure.u,
        "prediction": next_one.factor * next_one.u,
        "is_extrapolated": curve.is_extrapolated(x),
    }


def _read(curve: Curve, value: float, p: float, count: int, u_new: float | None) -> Mapping[str, object]:
    found = read_back(curve, value, probability=p, count=count, u_new=u_new)
    return {
        "value": value,
        "x": found.x,
        "u": found.u,
        "k": found.k,
        "U": found.U,
        "exact": found.exact,
        "is_extrapolated": found.is_extrapolated,
    }
