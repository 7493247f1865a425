"""Two further ways to ask for a risk: by ratio and reliability, and by a family's history.

Lives here: their part of the kind ``risk``, whose form is documented there. May not live here: the kind itself.
"""

from __future__ import annotations

from enum import StrEnum

from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.limits import (
    holds,
    read_at_most,
    read_limits,
    read_rule,
    read_uncertainty,
    shown_limits,
)
from labsys.metrology.risk import (
    GlobalRisks,
    ReliabilityMeans,
    family_risks,
    managed_guard,
    ratio_risks,
    root_sum_guard,
    worst_over_ratio,
    worst_over_reliability,
)


class WorstOver(StrEnum):
    """What is left open where the largest risk is asked for."""

    RELIABILITY = "over_reliability"
    RATIO = "over_ratio"


def shown_risks(risks: GlobalRisks) -> dict[str, object]:
    """Give global risks as an answer holds them."""
    return {
        "consumer": risks.consumer,
        "producer": risks.producer,
        "conforming": risks.conforming,
        "accepted": risks.accepted,
        "false_among_accepted": risks.false_among_accepted,
    }


def answer_ratio(fields: Fields) -> Answer:
    """Give the risks at a ratio; raises QuestionUnreadable, BadRiskInput, ReliabilityOutOfReach."""
    means, k = fields.one_of("means", ReliabilityMeans), fields.number("k", 2, above=0.0)
    at_most = read_at_most(fields)
    if fields.has("worst"):
        return _worst(fields, means, k, at_most)
    ratio, reliability = fields.number("ratio", above=0.0), fields.probability("reliability")
    acceptance = _acceptance(fields, ratio)
    fields.finish()
    found = ratio_risks(ratio, reliability, means, k=k, acceptance=acceptance)
    values = {**shown_risks(found.risks), "acceptance": acceptance, "guard": (1 - acceptance) * ratio}
    return Answer(
        {**values, "holds": holds(found.risks.consumer, at_most)},
        (
            Step("u of the measurement, in limits: 1/(ratio · k)", found.risks.u_measurement_mm),
            Step(
                f"spread of the population, in limits, from the {means} reliability", found.risks.prior.u_mm
            ),
        ),
        _RATIO_SOURCES,
    )


def _worst(fields: Fields, means: ReliabilityMeans, k: float, at_most: float | None) -> Answer:
    if fields.one_of("worst", WorstOver) is WorstOver.RATIO:
        reliability = fields.probability("reliability")
        acceptance = fields.number("acceptance", 1, at_least=0.0)
        fields.finish()
        found, guard = worst_over_ratio(reliability, means, k=k, acceptance=acceptance), None
    else:
        ratio = fields.number("ratio", above=0.0)
        acceptance = _acceptance(fields, ratio)
        fields.finish()
        found = worst_over_reliability(ratio, means, k=k, acceptance=acceptance)
        guard = (1 - acceptance) * ratio
    values = {
        "consumer": found.consumer,
        "ratio": found.ratio,
        "reliability": found.reliability,
        "acceptance": acceptance,
        "guard": guard,
    }
    step = Step("the largest consumer's risk, searched over what was left open", found.consumer)
    return Answer({**values, "holds": holds(found.consumer, at_most)}, (step,), _RATIO_SOURCES)


def _acceptance(fields: Fields, ratio: float) -> float:
    guard = fields.raw("guard", None)
    if guard == "root_sum":
        return root_sum_guard(ratio)
    if guard is None:
        return fields.number("acceptance", 1, at_least=0.0)
    multiple = managed_guard(ratio) if guard == "managed" else fields.number("guard", at_most=ratio)
    return 1 - multiple / ratio


def answer_family(fields: Fields) -> Answer:
    """Give the risks of a family, or what they need; raises QuestionUnreadable and what ``family_risks`` raises."""
    limits, rule, U = read_limits(fields, "limits"), read_rule(fields), float(read_uncertainty(fields, "U"))
    u, errors = U / fields.number("k", 2, above=0.0), fields.lengths("errors")
    at_most = read_at_most(fields)
    fields.finish()
    found = family_risks(errors, limits=limits, rule=rule, U_mm=U, u_mm=u)
    values: dict[str, object] = {"count": found.count, "needed": found.needed, "needs": found.needs}
    values["found_outside"], values["expected_outside"] = found.found_outside, found.expected_outside
    for name, risks in (("consumer_narrow", found.narrow), ("consumer_wide", found.wide)):
        values[name] = risks and risks.consumer
    if found.risks is None or found.prior is None:
        return Answer(values, (Step("what is missing", found.needs),), _FAMILY_SOURCES)
    values |= {**shown_risks(found.risks), "acceptance": shown_limits(found.risks.acceptance)}
    values |= {
        "prior": {"mean": found.prior.mean_mm, "u": found.prior.u_mm},
        "holds": holds(found.risks.consumer, at_most),
    }
    step = Step("spread of the true errors: √(s² − u²)", found.prior.u_mm)
    return Answer(values, (step,), _FAMILY_SOURCES)


_RATIO_SOURCES = (
    "JCGM 106:2012, 9.5",
    "ASME B89.7.3.1 (the ratio compares widths)",
    "ANSI/NCSL Z540.3 practice, guards from memory",
)
_FAMILY_SOURCES = ("JCGM 106:2012, 9.5, with a prior from the family's history",)
