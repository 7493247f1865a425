"""``reevaluation``: what earlier results become when a standard turns out to have had another value.

Fields:
    changes: list of objects, the standards' values that changed (none), each with
        standard: its name; the uses below name it.
        used, new: the value used and the one accepted now, sizes or deviations, lengths (mm).
        found_on: day it was found off, as 2026-03-15; after every use if left out.
        last_good_on: day it was last known good, or null where nobody knows (null).
        U, k, nu: its new expanded uncertainty, a length (mm), with k (2) and degrees of freedom (infinite); the old
            one stays if U is left out.
    results: list of objects, the results as issued (none), each with
        name: its name; a result that became a standard's value is named by the uses of others.
        value: error or deviation, a length (mm).
        measured_on: day of measurement; after every standard was found off if left out, so that changes count whole.
        uses: list of objects with standard, sensitivity (−1), count (1) and component, the place of the standard in
            the list of components, from 0 (none: U stays).
        limits: an object with lower and upper, lengths (mm) or null; not judged if left out.
        rule: as in “decision”; simple acceptance without a ratio if left out.
        U, k, nu: expanded uncertainty that the rule names, a length (mm), with k (2) and degrees of freedom
            (infinite); or instead
        components: list of objects with size, a length (mm), distribution: normal, rectangular, triangular (normal),
            divisor (that of the distribution), sensitivity (1), nu (infinite) and group, a text (none).
    found: list of objects, errors found out of place (none), each with error, a length (mm), limits, U and k (2).
    products: list of objects, products measured with a gauge now found wrong (none), each with recorded and
        gauge_error, lengths (mm), and limits.
    probability: of coverage, for components (0.9545).
    freedom_rule: truncate, nearest, keep, for components (truncate).

Answers:
    changes: of each standard, in the order given, and shift, new minus used (mm).
    results: of each, in the order given, before, worst (the whole change at the time of use) and interpolated (the
        change grown evenly in time), each with value and shift (mm), conforms (within the limits themselves, null
        without), verdict and refusal (null where there is none); U_before and U (mm), shift_over_U, flips.
    flips: names of the results whose verdict doesn't hold.
    found: of each ratio (error over limit), excess (beyond the limit, minus inside; mm), conformance_probability.
    products: of each corrected (mm), margin (to the nearest limit, minus outside; mm), status: still inside, now
        outside, still outside, now inside.
"""

from __future__ import annotations

from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule
from labsys.metrology.error import from_picometres
from labsys.metrology.limits import Limits, within_limits
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.reevaluation_read import (
    read_change,
    read_product,
    read_result,
    read_severity,
)
from labsys.metrology.reevaluation import (
    Outcome,
    ProductImpact,
    Reevaluated,
    Severity,
    StoredResult,
    reevaluate,
)


def answer(fields: Fields) -> Answer:
    """Re-evaluate; raises QuestionUnreadable and what ``reevaluate`` raises."""
    probability = fields.probability("probability", DEFAULT_PROBABILITY)
    freedom_rule = fields.one_of("freedom_rule", FreedomRule, FreedomRule.TRUNCATE)
    changes = [read_change(one) for one in fields.objects("changes", [])]
    stored = [read_result(one, probability, freedom_rule) for one in fields.objects("results", [])]
    found = [read_severity(one) for one in fields.objects("found", [])]
    products = [read_product(one) for one in fields.objects("products", [])]
    fields.finish()
    again = reevaluate(stored, changes, probability=probability, freedom_rule=freedom_rule)
    values: dict[str, object] = {
        "changes": [{"standard": one.source, "shift": from_picometres(one.delta_pm)} for one in changes],
        "results": [_told(one, before) for one, before in zip(again.results, stored, strict=True)],
        "flips": [one.name for one in again.flips],
        "found": [_severe(one) for one in found],
        "products": [_product(one) for one in products],
    }
    return Answer(values=values, steps=_steps(again.results), sources=_SOURCES)


def _severe(one: Severity) -> dict[str, object]:
    return {
        "ratio": one.ratio,
        "excess": one.excess_mm,
        "conformance_probability": one.conformance_probability,
    }


def _product(one: ProductImpact) -> dict[str, object]:
    return {"corrected": one.corrected_mm, "margin": one.margin_mm, "status": one.status}


def _told(one: Reevaluated, stored: StoredResult) -> dict[str, object]:
    return {
        "name": one.name,
        **{way: _outcome(getattr(one, way), stored.limits) for way in ("before", "worst", "interpolated")},
        "U_before": one.U_before_mm,
        "U": one.U_mm,
        "shift_over_U": one.shift_over_U,
        "flips": one.flips,
    }


def _outcome(one: Outcome, limits: Limits) -> dict[str, object]:
    has_limits = limits.lower is not None or limits.upper is not None
    return {
        "value": one.value_mm,
        "shift": one.shift_mm,
        "conforms": within_limits(one.value_mm, limits) if has_limits else None,
        "verdict": None if one.verdict is None else one.verdict.words,
        "refusal": one.refusal,
    }


def _steps(results: tuple[Reevaluated, ...]) -> tuple[Step, ...]:
    return (
        Step("y′ − y = Σ c·Δ with the whole Δ at the time of use", [one.worst.shift_mm for one in results]),
        Step("the same with Δ interpolated in time", [one.interpolated.shift_mm for one in results]),
        Step("U with the standards' new uncertainties in the budgets", [one.U_mm for one in results]),
    )


_SOURCES = (
    "ISO/IEC 17025:2017, 7.10 (nonconforming work)",
    "JCGM 106:2012, 7 (conformance probability)",
    "common practice, no source: e′ = e − Δ, x′ = x − e",
)
