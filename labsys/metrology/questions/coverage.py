"""``coverage``: the factor k for a probability and a shape, or for a list of independent parts.

Fields:
    probability: of coverage, between 0 and 1; or
    sigmas: the probability a normal distribution has within so many standard deviations (with neither: 0.9545).
    shape: normal/t, rectangular or trapezoidal; left out where parts are given (normal/t).
    nu: degrees of freedom of normal/t, 1 or more, or “infinite” (infinite); or
    doubt: the relative doubt of u, 0.25 for 25 %, from which the degrees of freedom follow.
    beta: |a₁ − a₂|/(a₁ + a₂) of the two rectangles that make the trapezoid.
    parts: instead of shape, independent parts of a result: list of objects with u (in any one unit), nu (infinite)
        and rectangular, true or false (false); shape and k follow from them.
    freedom_rule: with parts or doubt: truncate, nearest, keep (truncate).

Answers:
    k, shape, probability, nu_eff, nu_used (as above), beta (trapezoidal only).
    u, U: with parts, their root sum of squares and k times it, in their unit.
"""

from __future__ import annotations

import math

from labsys.metrology.coverage import (
    DEFAULT_PROBABILITY,
    Coverage,
    FreedomRule,
    Part,
    Shape,
    apply_rule,
    cover,
    freedom_of_doubt,
    rectangular_factor,
    student_factor,
    trapezoidal_factor,
)
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse

SOURCES = (
    "JCGM 100:2008, table G.2, G.4.1 (Student's factor, effective degrees of freedom), G.4.2 (doubt)",
    "EA-4/02 M:2022, S9 and S10 (rectangular and trapezoidal factors)",
)


def answer(fields: Fields) -> Answer:
    """Choose k by the rules of ``coverage.cover`` or for the shape named; raises QuestionUnreadable and its errors."""
    probability = _probability(fields)
    rule = fields.one_of("freedom_rule", FreedomRule, FreedomRule.TRUNCATE)
    if fields.has("parts"):
        return _of_parts(fields, probability, rule)
    found = _of_shape(fields, probability, rule)
    fields.finish()
    return Answer({**_values(found), "probability": probability}, _steps(found), SOURCES)


def _probability(fields: Fields) -> float:
    if fields.has("sigmas") and fields.has("probability"):
        raise refuse(fields.at("sigmas"), "either sigmas or probability", "both")
    if fields.has("sigmas"):
        return math.erf(fields.number("sigmas", above=0.0, below=8.0) / math.sqrt(2))
    return fields.probability("probability", DEFAULT_PROBABILITY)


def _of_parts(fields: Fields, probability: float, rule: FreedomRule) -> Answer:
    parts = [_part(one) for one in fields.objects("parts")]
    fields.finish()
    found = cover(parts, probability=probability, freedom_rule=rule)
    u = math.sqrt(math.fsum(part.u_mm**2 for part in parts))
    freedom = Step("ν_eff = u⁴/Σ(uᵢ⁴/νᵢ)", found.nu_eff)
    steps = (Step("u = √Σuᵢ²", u), freedom, *_steps(found), Step("U = k·u", found.k * u))
    values = {**_values(found), "probability": probability, "u": u, "U": found.k * u, "freedom_rule": rule}
    return Answer(values, steps, SOURCES)


def _part(one: Fields) -> Part:
    # Below the square root of the largest number, so that the sum of squares is one.
    part = Part(
        one.number("u", at_least=0.0, at_most=1e100), one.flag("rectangular", False), one.freedom("nu")
    )
    one.finish()
    return part


def _of_shape(fields: Fields, probability: float, rule: FreedomRule) -> Coverage:
    shape = fields.one_of("shape", Shape, Shape.NORMAL_OR_T)
    if shape is Shape.RECTANGULAR:
        return Coverage(rectangular_factor(probability), shape, None, math.inf, math.inf)
    if shape is Shape.TRAPEZOIDAL:
        beta = fields.number("beta", at_least=0.0, at_most=1.0)
        return Coverage(trapezoidal_factor(probability, beta), shape, beta, math.inf, math.inf)
    if fields.has("doubt"):
        nu = freedom_of_doubt(fields.number("doubt"))
        used = apply_rule(nu, rule)
    else:
        nu = used = fields.freedom("nu")
    return Coverage(student_factor(probability, used), shape, None, nu, used)


def _values(found: Coverage) -> dict[str, object]:
    return {name: getattr(found, name) for name in found.__slots__}


def _steps(found: Coverage) -> tuple[Step, ...]:
    formulas = {
        Shape.NORMAL_OR_T: "k = t_p(ν)",
        Shape.RECTANGULAR: "k = p·√3",
        Shape.TRAPEZOIDAL: "k = (1 − √((1 − p)(1 − β²)))/√((1 + β²)/6)",
    }
    return (
        Step("ν used", found.nu_used),
        Step(formulas[found.shape], found.k),
    )
