"""The statement of conformity: which results, against which limits, by which rule, at which risk (17025, 7.8.6).

The risk printed is that of the rule at its acceptance limit, computed from the budgets of the very results covered.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from instruments.certificates.document.results import Conformity, Finding, Stage
from instruments.certificates.document.words import BOTH, STAGES, results
from labsys.metrology.budget import Budget
from labsys.metrology.conformance import Spread
from labsys.metrology.reporting import percent
from labsys.metrology.rules import Rule, RuleKind
from labsys.metrology.verdicts import Verdict
from labsys.metrology.views import VIEW_WORDS, View

NOT_CONFIRMED = (
    "{source}. These limits are starting values that the laboratory has not confirmed against the document they are "
    "taken from; no statement is made about any standard."
)


NOTHING_MEASURED = (
    "What fits or doesn't was tried, not measured: no uncertainty enters, and no risk is stated."
)


@dataclass(frozen=True, slots=True)
class Grounds:
    """What the verdicts stand on: limits' source, whether confirmed, who agreed, the rule."""

    source: str
    confirmed: bool
    by_customer: bool
    agreed: str
    rule: Rule


def state(stages: Sequence[Stage], grounds: Grounds, budgets: Iterable[Budget]) -> Conformity | None:
    """Say what the verdicts of all stages mean; None where no result has one.

    ``budgets`` are those of the judged results under the view that the rule names.
    """
    judged = [line.number for stage in stages for line in stage.lines if line.verdict]
    if not judged:
        return None
    return Conformity(
        covers=f"This statement covers {results(judged)}.",
        findings=tuple(_finding(stage, alone=len(stages) == 1) for stage in stages if stage.verdict),
        specification=grounds.source if grounds.confirmed else NOT_CONFIRMED.format(source=grounds.source),
        confirmed=grounds.confirmed,
        by_customer=grounds.by_customer,
        agreed=grounds.agreed,
        rule=_first_upper(f"{grounds.rule.words}."),
        uncertainty=_which_uncertainty(grounds.rule),
        risk=risk_sentence(grounds.rule, tuple(budgets)),
    )


def _which_uncertainty(rule: Rule) -> str:
    view = rule.view
    if rule.kind is RuleKind.PRESCRIBED:
        return f"No uncertainty enters the verdict; the whisker shows the {VIEW_WORDS[view]}."
    if view is View.CALIBRATION:
        return "The rule uses U as stated beside each result (calibration uncertainty); the whisker shows it."
    return (
        f"The rule uses the {VIEW_WORDS[view]}, which the whisker shows; U beside each result is the "
        f"{VIEW_WORDS[View.CALIBRATION]}."
    )


def risk_sentence(rule: Rule, budgets: Sequence[Budget]) -> str:
    """Say what a person takes on who relies on a verdict under this rule."""
    if rule.kind is RuleKind.SIMPLE:
        return (
            "Where a single result lies exactly on a limit, the probability that the true error lies beyond it is up "
            "to 50 %; it falls with the distance from the limit."
        )
    if rule.kind is RuleKind.SPECIFIC_RISK:
        share = percent(float(rule.max_false_accept or 0))
        return f"The probability that the true error of an accepted result lies beyond a limit is at most {share}."
    if rule.kind is RuleKind.PRESCRIBED:
        return (
            f"{rule.document} prescribes which results are accepted and thereby settles the risk of a wrong decision "
            "(ISO/IEC 17025:2017, 7.8.6.1); it isn't stated again here."
        )
    if not budgets:
        return NOTHING_MEASURED
    share = _share(guard_risk(rule, budgets))
    if rule.kind is RuleKind.GUARDED:
        return (
            "The probability that the true error of an accepted result lies beyond the nearer limit is at most "
            f"{share}. “Not accepted” means that the error lies within the limit but too close to it for this."
        )
    if rule.kind is RuleKind.PROVE:
        return (
            "The probability that “in tolerance” or “out of tolerance” is wrong at the nearer limit is at most "
            f"{share}. “Not decided” means that neither is proven."
        )
    return (
        "The probability that “in tolerance” or “out of tolerance” is wrong at the nearer limit is at most "
        f"{share}; for the conditional verdicts on either side of the limit it is up to 50 %."
    )


def guard_risk(rule: Rule, budgets: Sequence[Budget]) -> float:
    """Give the largest probability, over the budgets, that the true value lies beyond a limit which the measured one
    keeps away from by the guard w = g·U (JCGM 106:2012, 8.3).
    """
    return max(1.0 - Spread.of(budget).below(float(rule.g) * budget.U_mm) for budget in budgets)


def chance(probability: float) -> str:
    """Print the probability that a result conforms, in percent to a tenth, never as certain."""
    if probability > 0.999:
        return "> 99.9 %"
    if probability < 0.001:
        return "< 0.1 %"
    return f"{Decimal(probability) * 100:.1f} %"


def _share(risk: float) -> str:
    """Print a risk in percent, rounded up to a tenth: a promise is never better than the figure behind it."""
    up = (Decimal(risk) * 100).quantize(Decimal("0.1"), rounding=ROUND_CEILING)
    return f"{up.normalize():f} %" if up < 50 else "50 %"


def _finding(stage: Stage, *, alone: bool) -> Finding:
    by_verdict: dict[str, list[int]] = {}
    for line in stage.lines:
        if line.verdict:
            by_verdict.setdefault(line.verdict, []).append(line.number)
    order = [verdict for verdict in Verdict if verdict.value in by_verdict]
    parts = [f"{results(by_verdict[verdict.value])} {verdict.words}" for verdict in order]
    name = BOTH if alone else STAGES[stage.name]
    return Finding(name, stage.verdict, _first_upper("; ".join(parts)) + ".")


def _first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]
