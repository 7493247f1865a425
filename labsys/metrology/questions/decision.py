"""``decision``: the verdict on an error under a decision rule, with all that is printed beside it.

Fields:
    error: the unrounded error, a length (mm)
    limits: an object with lower and upper, lengths (mm) or null for none on that side
    rule: an object with kind and its parameter: simple (min_ratio, 4; null for none), guarded, prove, four_way (g, 1),
        specific_risk (max_false_accept), prescribed (document); view says which U it uses, calibration or test_value
        (calibration)
    U: expanded uncertainty of the calibration, a length (mm)
    U_test_value: expanded uncertainty of the test value, a length (the same as U)
    k: coverage factor of both (2)
    nu: degrees of freedom of both, or “infinite” (infinite)
    reported: the error as the certificate prints it, a length (rounded to the place of U at two digits)

Answers:
    verdict: in tolerance, conditional inside, not decided, not accepted, conditional outside or out of tolerance
    statement: the same in the words of ILAC-G8: pass, conditional pass, conditional fail or fail; under prove, neither
        where nothing is proven
    acceptance: lower and upper limit between which the rule accepts (mm)
    outer: lower and upper limit beyond which it says out of tolerance (mm)
    margin: distance to the nearest unguarded limit, minus outside (mm)
    ratio: width between the limits over 2U, null with a limit on one side
    conformance_probability, nonconformance_probability: that the true error lies within the limits, or beyond
    U_used: the uncertainty that the rule names (mm)
    rule: the rule in words
    note: where the rounded values would seem to contradict the verdict
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from labsys.metrology.conformance import Spread, nonconformance_probability
from labsys.metrology.decision import Decision, judge
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.limits import read_limits, read_rule, read_uncertainty, shown_limits
from labsys.metrology.reporting import report
from labsys.metrology.rules import Rule
from labsys.metrology.verdicts import Verdict
from labsys.metrology.views import View


def answer(fields: Fields) -> Answer:
    """Judge the error; raises QuestionUnreadable, BadRule and what a decision raises."""
    error, limits, rule = fields.length("error"), read_limits(fields, "limits"), read_rule(fields)
    U = read_uncertainty(fields, "U")
    test_value = read_uncertainty(fields, "U_test_value", U)
    used = test_value if rule.view is View.TEST_VALUE else U
    spread = Spread(float(used) / fields.number("k", 2, above=0.0), nu=fields.freedom("nu"))
    reported = fields.length("reported") if fields.has("reported") else report(error, U).error_mm
    fields.finish()
    found = judge(
        error_mm=error,
        limits=limits,
        rule=rule,
        U_mm=float(used),
        spread=spread,
        reported_error_mm=reported,
    )
    beyond = nonconformance_probability(error, limits, spread)
    return Answer(values=_values(found, rule, beyond), steps=_steps(found), sources=_SOURCES)


def _values(found: Decision, rule: Rule, beyond: float) -> dict[str, object]:
    return {
        "verdict": found.verdict.words,
        "statement": _STATEMENTS[found.verdict],
        "acceptance": shown_limits(found.acceptance),
        "outer": shown_limits(found.outer),
        "margin": found.margin_mm,
        "ratio": found.ratio,
        "conformance_probability": found.conformance_probability,
        "nonconformance_probability": beyond,
        "U_used": found.U_used_mm,
        "rule": rule.words,
        "note": found.note,
    }


def _steps(found: Decision) -> tuple[Step, ...]:
    return (
        Step("accuracy ratio (T_U − T_L)/(2U)", found.ratio),
        Step("accepted between, in whole picometres, limits included", shown_limits(found.acceptance)),
        Step("out of tolerance beyond", shown_limits(found.outer)),
        Step("probability that the true error lies within the limits", found.conformance_probability),
    )


_STATEMENTS: Final[Mapping[Verdict, str]] = {
    Verdict.IN_TOLERANCE: "pass",
    Verdict.CONDITIONAL_INSIDE: "conditional pass",
    Verdict.NOT_DECIDED: "neither",
    Verdict.NOT_ACCEPTED: "fail",
    Verdict.CONDITIONAL_OUTSIDE: "conditional fail",
    Verdict.OUT_OF_TOLERANCE: "fail",
}
_SOURCES = (
    "ILAC-G8:09/2019, section 4",
    "ISO 14253-1:2017",
    "ASME B89.7.3.1",
    "JCGM 106:2012, 7 and 8",
    "ISO/IEC 17025:2017, 7.8.6",
)
