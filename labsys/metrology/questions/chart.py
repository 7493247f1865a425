"""``chart``: checks between calibrations held against a frozen baseline, groups held against each other.

Fields:
    baseline: the values that freeze centre and spread, in their order; or centre, s and nu (infinite)
    method: spread of the baseline, standard_deviation or moving_range (standard_deviation)
    values: the checks since, in their order (none)
    warning, action: limits in spreads (2 and 3)
    rules: run rules, western_electric, iso_8258 or iso_7870_2 (iso_7870_2)
    weight, multiple: of the moving average, that of the newest value (0.2) and its limits in its own spreads (3)
    probability: of the check-standard limits, of the limit of a next s, of all standards of a line together (0.95)
    groups: groups to compare, each with s and count, and mean where means are compared (none)
    has_equal_spread: whether two means are compared with pooled spreads (true)
    next_nu: degrees of freedom of the next s, to be held against the pooled one (left out)
    line: a calibration line in use, object with intercept, slope, s and nu of one fit, known and observed (values of
        its check standards and readings of them), and places, the standards read on one occasion (3)

Answers:
    centre, s, nu, warning_limits, action_limits, student_limits, largest_moving_range
    values: for each value z, status (in, warning, out), average, half_width and is_out of the moving average
    settled_half_width: half the width of the moving average's limits in the long run
    signals: patterns found, each with pattern, index and first
    pooled: s and nu of the groups; limit_of_next_s: the most that the next may be
    spreads: F and p of the first two; means: difference, u, t, nu and p of the first two
    line: control_values (observed, through the line, minus known), t_star, limit, outside (their places from 0)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict

from labsys.metrology.charts.baseline import Baseline, SpreadMethod, freeze
from labsys.metrology.charts.ewma import averages, settled_half_width
from labsys.metrology.charts.line_check import CalibrationLine, check_line
from labsys.metrology.charts.means import Group, compare_means
from labsys.metrology.charts.rules import RuleSet, signals
from labsys.metrology.charts.spread import Spread, compare_spreads, pool, spread_limit
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse
from labsys.metrology.questions.numbers import maybe

SOURCES = (
    "ISO 7870-2 and 7870-6 (from memory)",
    "NIST/SEMATECH e-Handbook, 1.3.5.3, 1.3.5.9, 2.2.2, 2.2.3, 2.3.7, 6.3.2",
)


def answer(fields: Fields) -> Answer:
    """Judge the checks and compare the groups; raises QuestionUnreadable and what the charts refuse."""
    baseline = _baseline(fields)
    groups = fields.objects("groups", [])
    if baseline is None and not groups and not fields.has("line"):
        raise refuse(fields.place, "a baseline, a centre with s, groups or a line", "none of them")
    probability = fields.probability("probability", 0.95)
    values: dict[str, object] = {}
    if baseline is not None:
        values |= _judged(fields, baseline, probability)
    if groups:
        values |= _compared(fields, groups, probability)
    if fields.has("line"):
        values["line"] = _line(fields.object("line"), probability)
    fields.finish()
    steps = () if baseline is None else (Step("frozen centre and spread", [baseline.centre, baseline.s]),)
    return Answer(values, steps, SOURCES)


def _baseline(fields: Fields) -> Baseline | None:
    method = fields.one_of("method", SpreadMethod, SpreadMethod.STANDARD_DEVIATION)
    if fields.has("baseline"):
        return freeze(fields.numbers("baseline"), method=method)
    if not fields.has("centre"):
        return None
    s, nu = fields.number("s", above=0.0), fields.freedom("nu")
    return Baseline(fields.number("centre"), s, nu, 0, method)


def _judged(fields: Fields, baseline: Baseline, probability: float) -> Mapping[str, object]:
    checks = fields.numbers("values", [])
    warning, action = fields.number("warning", 2, above=0.0), fields.number("action", 3, above=0.0)
    weight, multiple = fields.number("weight", 0.2), fields.number("multiple", 3, above=0.0)
    rules = fields.one_of("rules", RuleSet, RuleSet.ISO_7870_2)
    moving = averages(checks, baseline, weight=weight, multiple=multiple) if checks else ()
    z = [baseline.z(one) for one in checks]
    return {
        "centre": baseline.centre,
        "s": baseline.s,
        "nu": baseline.nu,
        "warning_limits": baseline.limits(warning),
        "action_limits": baseline.limits(action),
        "student_limits": baseline.student_limits(probability),
        "largest_moving_range": baseline.largest_moving_range,
        "settled_half_width": settled_half_width(baseline.s, weight=weight, multiple=multiple),
        "values": [
            {
                "value": one,
                "z": at,
                "status": baseline.judge(one, warning=warning, action=action),
                **asdict(mean),
            }
            for one, at, mean in zip(checks, z, moving, strict=True)
        ],
        "signals": [asdict(one) for one in signals(z, rules)] if z else [],
    }


def _compared(fields: Fields, groups: Sequence[Fields], probability: float) -> Mapping[str, object]:
    next_nu, has_equal_spread = maybe(fields, "next_nu", at_least=1.0), fields.flag("has_equal_spread", True)
    spreads, means = [], []
    for one in groups:
        s, count = one.number("s", at_least=0.0), one.count("count", at_least=1)
        spreads.append(Spread(s, float(count - 1)))
        if one.has("mean"):
            means.append(Group(one.number("mean"), s, count))
        one.finish()
    pooled = pool([one for one in spreads if one.nu >= 1])
    found: dict[str, object] = {"pooled": asdict(pooled)}
    if next_nu is not None:
        found["limit_of_next_s"] = spread_limit(pooled, nu_new=next_nu, probability=probability)
    if len(spreads) == 2 and all(one.s > 0 and one.nu >= 1 for one in spreads):
        found["spreads"] = asdict(compare_spreads(*spreads))
    if len(means) == 2:
        found["means"] = asdict(compare_means(*means, has_equal_spread=has_equal_spread))
    return found


def _line(fields: Fields, probability: float) -> Mapping[str, object]:
    line = CalibrationLine(
        fields.number("intercept"),
        fields.number("slope"),
        fields.number("s", at_least=0.0),
        fields.freedom("nu"),
    )
    known, observed = fields.numbers("known"), fields.numbers("observed")
    places = fields.count("places", 3, at_least=1)
    fields.finish()
    return asdict(check_line(line, known, observed, probability=probability, places=places))
