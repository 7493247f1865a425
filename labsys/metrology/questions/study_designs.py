"""The studies of ``study`` that have appraisers, parts, days or groups.

Lives here: their fields and what they say. May not live here: studies on references (study_references.py).
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse
from labsys.metrology.questions.study_parts import (
    HANDBOOK,
    MANUAL,
    broken_down,
    deep,
    intervals,
    level,
    table,
)
from labsys.metrology.studies import crossed as crossing
from labsys.metrology.studies import nested as nesting
from labsys.metrology.studies.anova import one_way
from labsys.metrology.studies.constants import Constants
from labsys.metrology.studies.crossed import CrossedRules, Denominator, Pooling, crossed_study
from labsys.metrology.studies.cube import in_order
from labsys.metrology.studies.levels import level_study, level_study_of_readings
from labsys.metrology.studies.nested import nested_study
from labsys.metrology.studies.ranges import range_study
from labsys.metrology.studies.variation import STUDY_WIDTH, NdcRule, Scale


def crossed(fields: Fields) -> Answer:
    """Answer a crossed study by analysis of variance."""
    readings, scale = _in_order(fields), _scale(fields)
    rules = CrossedRules(
        pooling=fields.one_of("pooling", Pooling, Pooling.BY_SIGNIFICANCE),
        significance=fields.probability("significance", 0.05),
        denominator=fields.one_of("denominator", Denominator, Denominator.INTERACTION),
        confidence=fields.probability("confidence", 0.95),
    )
    fields.finish()
    found = crossed_study(readings, scale=scale, rules=rules)
    pooled = "pooled into the repeatability" if found.is_pooled else "kept"
    return Answer(
        values={
            "table": table(found.table),
            "reduced": None if found.reduced is None else table(found.reduced),
            "is_pooled": found.is_pooled,
            **asdict(rules),
            "intervals": intervals(found.intervals),
            **broken_down(found.breakdown),
        },
        steps=(
            Step("p of the interaction", found.table["interaction"].p),
            Step(
                f"the interaction is {pooled} ({rules.pooling.value}, {rules.significance:g})",
                found.is_pooled,
            ),
            Step(
                "components from the expected mean squares",
                {n: r.variance for n, r in found.breakdown.rows.items()},
            ),
        ),
        sources=(f"{MANUAL} and appendix A", *{one.source for one in found.intervals.values()}),
    )


def ranges(fields: Fields) -> Answer:
    """Answer a crossed study by averages and ranges."""
    readings, scale = _in_order(fields), _scale(fields)
    constants = fields.one_of("constants", Constants, Constants.PRINTED)
    fields.finish()
    found = range_study(readings, scale=scale, constants=constants)
    names = (
        "mean_ranges",
        "mean_range",
        "means",
        "mean_difference",
        "part_range",
        "K1",
        "K2",
        "K3",
        "constants",
    )
    return Answer(
        values={**{name: getattr(found, name) for name in names}, **broken_down(found.breakdown)},
        steps=(
            Step("EV = mean range · K1", found.breakdown.rows["repeatability"].sd),
            Step("AV = √((difference · K2)² − EV²/(parts · trials))", found.breakdown.rows["appraiser"].sd),
            Step("PV = range of the parts' means · K3", found.breakdown.rows["part"].sd),
        ),
        sources=(MANUAL,),
    )


def nested(fields: Fields) -> Answer:
    """Answer a study of parts nested in appraisers."""
    readings, scale = deep(fields, "readings", 3), _scale(fields)
    confidence = fields.probability("confidence", 0.95)
    fields.finish()
    found = nested_study(readings, scale=scale, confidence=confidence)
    return Answer(
        values={
            "table": table(found.table),
            "intervals": intervals(found.intervals),
            **broken_down(found.breakdown),
        },
        steps=(Step("each level tested against the next", nesting.AXES),),
        sources=("expected mean squares of a balanced nested design",),
    )


def levels(fields: Fields) -> Answer:
    """Answer a check standard over repeats, days and runs."""
    if fields.has("readings"):
        found = level_study_of_readings(deep(fields, "readings", 4))
    else:
        means, deviations = deep(fields, "means", 3), deep(fields, "deviations", 3)
        found = level_study(means, deviations, repeats=fields.count("repeats", at_least=2))
    fields.finish()
    return Answer(
        values={
            "repeatability": level(found.repeatability),
            "day": level(found.day),
            "run": level(found.run),
            "single_sd": found.single_sd,
            "notes": found.notes,
        },
        steps=(
            Step("one measurement at another time: √(s₃² + (K − 1)/K·s₂² + (J − 1)/J·s₁²)", found.single_sd),
        ),
        sources=(f"{HANDBOOK} 2.4.4 and 2.6.3",),
    )


def one_way_groups(fields: Fields) -> Answer:
    """Answer a one-way analysis of variance."""
    groups = deep(fields, "readings", 2)
    fields.finish()
    found = one_way(groups)
    return Answer(
        values={
            "table": table({line.source: line for line in (found.between, found.within, found.total)}),
            "r_squared": found.r_squared,
            "residual_sd": found.residual_sd,
            "between_estimate": found.between_estimate,
            "between_variance": found.between_variance,
            "group_means": found.group_means,
        },
        steps=(Step("F = MS between / MS within", found.between.F),),
        sources=(f"{HANDBOOK} 7.4.3",),
    )


def _in_order(fields: Fields) -> list[Any]:
    order = fields.texts("order", list(crossing.AXES))
    if sorted(order) != sorted(crossing.AXES):
        raise refuse(fields.at("order"), "part, appraiser and trial in some order", order)
    return in_order(deep(fields, "readings", 3), given=order, wanted=crossing.AXES)


def _scale(fields: Fields) -> Scale:
    return Scale(
        tolerance=fields.number("tolerance", above=0.0) if fields.has("tolerance") else None,
        width=fields.number("width", STUDY_WIDTH, above=0.0),
        ndc_rule=fields.one_of("ndc", NdcRule, NdcRule.TRUNCATE),
    )
