"""``comparison``: results of laboratories held against a reference value, or against each other.

Fields:
    results: the results, each with value and U, and k (2)
    reference: the reference value, an object with value and U, and k (2); left out: the results' own weighted mean
    significance: of the consistency check (0.05)
    find_subset: whether the largest consistent subset makes the mean where not all agree (false)

Answers:
    results: for each E_n, zeta, performance by E_n and by zeta, difference and its u
    consensus: value, u, U (k = 2), chi_squared, nu, p_value, is_consistent, included, where no reference was given
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from labsys.metrology.comparisons.consensus import (
    SIGNIFICANCE,
    Consensus,
    largest_consistent_subset,
    weighted_mean,
)
from labsys.metrology.comparisons.scores import normalized_error, zeta_score
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields

SOURCES = (
    "ISO 13528:2022, 9.6 and 9.7 (from memory)",
    "M. G. Cox, Metrologia 39 (2002) 589 and 44 (2007) 187",
)
Result = tuple[float, float]
"""A value with its standard uncertainty."""


def answer(fields: Fields) -> Answer:
    """Score the results; raises QuestionUnreadable, ScoreUndefined, SubsetsTooMany."""
    results = [_result(one) for one in fields.objects("results")]
    significance = fields.probability("significance", SIGNIFICANCE)
    finds_subset = fields.flag("find_subset", False)
    reference = _result(fields.object("reference")) if fields.has("reference") else None
    fields.finish()
    if reference is not None:
        scored = [_scored(one, reference) for one in results]
        return Answer({"results": scored, "consensus": None}, (), SOURCES)
    find = largest_consistent_subset if finds_subset else weighted_mean
    found = find([value for value, _ in results], [u for _, u in results], significance=significance)
    return Answer(
        {"results": _differences(found), "consensus": _consensus(found)},
        (Step("weights 1/u², χ² of the differences", found.chi_squared),),
        SOURCES,
    )


def _result(fields: Fields) -> Result:
    value, U, k = fields.number("value"), fields.number("U", at_least=0.0), fields.number("k", 2, above=0.0)
    fields.finish()
    return value, U / k


def _scored(result: Result, reference: Result) -> Mapping[str, object]:
    (value, u), (wanted, u_wanted) = result, reference
    E_n = normalized_error(value, 2 * u, wanted, 2 * u_wanted)
    zeta = zeta_score(value, u, wanted, u_wanted)
    return {
        "E_n": E_n.value,
        "performance": E_n.performance,
        "zeta": zeta.value,
        "zeta_performance": zeta.performance,
        "difference": zeta.difference,
        "u": zeta.spread,
    }


def _differences(found: Consensus) -> Sequence[Mapping[str, object]]:
    return [
        {
            "difference": one.value,
            "u": one.u,
            "E_n": one.value / one.U if one.u > 0 else None,
            "is_included": one.is_included,
        }
        for one in found.differences
    ]


def _consensus(found: Consensus) -> Mapping[str, object]:
    return {
        "value": found.value,
        "u": found.u,
        "U": 2 * found.u,
        "chi_squared": found.chi_squared,
        "nu": found.nu,
        "p_value": found.p_value,
        "is_consistent": found.is_consistent,
        "included": found.included,
    }
