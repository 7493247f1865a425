"""``periodic``: the periodic error of a scale, from points of differing phase.

Fields:
    lengths: where the errors were found, in the unit of the period
    errors: the errors there, in one unit
    period: the scale's period, such as a screw's pitch
    with_trend: whether a straight line is fitted with it (false)
    u: standard uncertainty of each error, which weights the fit (left out: all alike)
    scatter: what spreads the errors, residual (then u counts as ratios) or stated (residual)

Answers:
    amplitude, u_amplitude; phase, u_phase in radians; offset, trend, u_trend
    p_value: probability of such a fit where there is no periodic error
    phases: where in the period each point lies, 0 to 1
    s, nu: residual standard deviation and its degrees of freedom
"""

from __future__ import annotations

from labsys.metrology.fits.least_squares import Scatter
from labsys.metrology.fits.periodic import fit_periodic, phases
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields

SOURCES = ("linear least squares in sine and cosine at a known period (common practice, no source)",)


def answer(fields: Fields) -> Answer:
    """Fit amplitude and phase; raises QuestionUnreadable, PhasesTooFew and what the fit refuses."""
    lengths, errors = fields.numbers("lengths"), fields.numbers("errors")
    period = fields.number("period", above=0.0)
    found = fit_periodic(
        lengths,
        errors,
        period=period,
        with_trend=fields.flag("with_trend", False),
        u=fields.numbers("u") if fields.has("u") else None,
        scatter=fields.one_of("scatter", Scatter, Scatter.RESIDUAL),
    )
    fields.finish()
    values = {
        "amplitude": found.amplitude,
        "u_amplitude": found.u_amplitude,
        "phase": found.phase,
        "u_phase": found.u_phase,
        "p_value": found.p_value,
        "offset": found.offset,
        "trend": found.trend,
        "u_trend": found.u_trend,
        "phases": phases(lengths, period),
        "s": found.solution.s,
        "nu": found.solution.nu,
    }
    return Answer(values, (Step("√(a² + b²) of a·sin + b·cos", found.amplitude),), SOURCES)
