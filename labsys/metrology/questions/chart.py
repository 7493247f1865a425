"""``chart``: checks between calibrations held against a frozen baseline, groups held against each other.

Fields:
    baseline: the values that freeze centre and spread, in their order; or centre, s and nu (infinite)
    method: spread of the baseline, standard_deviation or moving_range (standard_deviation)
    values: the checks since, in their order (none)
    warning, action: limits in spreads (2 and 3)
    rules: run rules, western_electric, iso_8258 or iso_7870_2 (iso_7870_2)
    weight: weight of the newest value in the moving average (0.2)
    probability: of the check-standard limits (0.95)
    groups: groups to compare, each with s and count, and mean where means are compared (none)
    has_equal_spread: whether two means are compared with pooled spreads (true)

Answers:
    centre, s, nu, warning_limits, action_limits, student_limits, largest_moving_range
    values: for each value z, status (in, warning, out), average, half_width and is_out of the moving average
    settled_half_width: half the width of the moving average's limits in the long run
    signals: patterns found, each with pattern, index and first
    pooled: s and nu of the groups
    spreads: F and p of the first two; means: difference, u, t, nu and p of the first two
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict

from labsys.metrology.charts.baseline import Baseline, SpreadMethod, freeze
from labsys.metrology.charts.ewma import averages, settled_half_width
from labsys.metrology.charts.means import Group, compare_means
from labsys.metrology.charts.rules import RuleSet, signals
from labsys.metrology.charts.spread import Spread, compare_spreads, pool
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse

SOURCES = (
    "ISO 7870-2 and 7870-6 (from memory)",
    "NIST/SEMATECH e-Handbook, 1.3.5.3, 1.3.5.9, 2.2.2, 2.2.3, 6.3.2",
)


def answer(fields: Fields) -> Answer:
    """Judge the checks and compare the groups; raises QuestionUnreadable and what the charts refuse."""
    baseline = _baseline(fields)
    groups = fields.objects("groups", [])
    if baseline is None and not groups:
        raise refuse(fields.place, "a baseline, a centre with s, or groups", "none of them")
    values: dict[str, object] = {}
    if baseline is not None:
        values |= _judged(fields, baseline)
    if groups:
        values |= _compared(groups, has_equal_spread=fields.flag("has_equal_spread", True))
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


def _judged(fields: Fields, baseline: Baseline) -> Mapping[str, object]:
    checks = fields.numbers("values", [])
    warning, action = fields.number("warning", 2, above=0.0), fields.number("action", 3, above=0.0)
    weight, rules = fields.number("weight", 0.2), fields.one_of("rules", RuleSet, RuleSet.ISO_7870_2)
    moving = averages(checks, baseline, weight=weight) if checks else ()
    z = [baseline.z(one) for one in checks]
    return {
        "centre": baseline.centre,
        "s": baseline.s,
        "nu": baseline.nu,
        "warning_limits": baseline.limits(warning),
        "action_limits": baseline.limits(action),
        "student_limits": baseline.student_limits(fields.probability("probability", 0.95)),
        "largest_moving_range": baseline.largest_moving_range,
        "settled_half_width": settled_half_width(baseline.s, weight=weight),
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


def _compared(groups: Sequence[Fields], *, has_equal_spread: bool) -> Mapping[str, object]:
    spreads, means = [], []
    for one in groups:
        s, count = one.number("s", at_least=0.0), one.count("count", at_least=1)
        spreads.append(Spread(s, float(count - 1)))
        if one.has("mean"):
            means.append(Group(one.number("mean"), s, count))
        one.finish()
    found: dict[str, object] = {"pooled": asdict(pool([one for one in spreads if one.nu >= 1]))}
    if len(spreads) == 2 and all(one.s > 0 and one.nu >= 1 for one in spreads):
        found["spreads"] = asdict(compare_spreads(*spreads))
    if len(means) == 2:
        found["means"] = asdict(compare_means(*means, has_equal_spread=has_equal_spread))
    return found
