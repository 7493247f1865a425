"""``budget``: estimate, standard and expanded uncertainty of a result, and what each input has in it.

Fields:
    inputs: list of objects, each with
        name: the name the model uses.
        estimate: its value, in its own unit (0).
        one of u (standard uncertainty), U with k (expanded), half_width (of a distribution with ends), readings (list
        of single readings: mean, s/√n and n − 1 follow); in the unit of the estimate.
        distribution: normal, rectangular, triangular, trapezoidal, arcsine, student, product (normal with u, U and
        readings; rectangular with half_width).
        beta: top divided by base of a trapezoid.
        nu: degrees of freedom, 1 or more, or “infinite” (infinite).
        sensitivity: ∂result/∂input in units of the result per unit of the input, where there is no model (1).
        source: where it comes from, a text (empty).
    model: list of terms that are added; each an object with coefficient (1) and factors: a list of input names, or of
        objects with input, power (1) and function: identity, sin, cos, tan, exp, ln, arcsin, arccos, arctan
        (identity); angles in radians. Without model the result is the sum of sensitivity times input.
    constant: added to the sum where there is no model, in the unit of the result (0).
    correlations: list of objects with between (two names) and r, from −1 to 1 (none).
    read_together: names of inputs with readings that were taken at the same times; their r follows (none).
    unit: the unit of the result, a text that is only repeated (empty).
    probability: of coverage, between 0 and 1 (0.9545).
    freedom_rule: what becomes of broken effective degrees of freedom: truncate, nearest, keep (truncate).
    shared_freedom: what becomes of correlated inputs with different nu: refuse, least (refuse).
    order: first, second, auto: second where an input bends the result more than it moves it (auto).

Answers:
    estimate, u, U: of the result, in its unit; k, probability, shape (normal/t, rectangular, trapezoidal), beta.
    nu_eff, nu_used, freedom_rule: degrees of freedom as worked out, as used, and the rule between them.
    order: what was used; first_order_u: u of the first order alone; shift: how far curvature moves the mean.
    rows: by input name, estimate, u, nu, sensitivity, contribution (c·u, signed), own_share, correlation_share, share.
    pairs: at second order: first, second, contribution (in the unit of the result), share.
    correlation_share, second_order_share: of the variance; all shares add up to 1.
"""

from __future__ import annotations

from dataclasses import asdict

from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule
from labsys.metrology.propagation import Order, Propagation, Settings, SharedFreedom, propagate
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.models import read_inputs


def answer(fields: Fields) -> Answer:
    """Propagate the inputs through the model; raises QuestionUnreadable and what ``propagate`` raises."""
    inputs, model, correlation = read_inputs(fields)
    settings = Settings(
        probability=fields.probability("probability", DEFAULT_PROBABILITY),
        freedom_rule=fields.one_of("freedom_rule", FreedomRule, FreedomRule.TRUNCATE),
        shared_freedom=fields.one_of("shared_freedom", SharedFreedom, SharedFreedom.REFUSE),
        order=fields.one_of("order", Order, Order.AUTO),
        unit=fields.text("unit", ""),
    )
    fields.finish()
    found = propagate(model, inputs, correlation=correlation, settings=settings)
    return Answer(
        values=_values(found),
        steps=_steps(found),
        sources=(
            "JCGM 100:2008, 5.1.2, 5.2.2 (combined uncertainty), G.4.1 (degrees of freedom)",
            "EA-4/02 M:2022, S9 and S10 (rectangular and trapezoidal factors)",
            *(("JCGM 100:2008, 5.1.2 note (second order)",) if found.pairs else ()),
        ),
    )


def _values(found: Propagation) -> dict[str, object]:
    plain = (
        "estimate",
        "u",
        "U",
        "k",
        "shape",
        "beta",
        "nu_eff",
        "nu_used",
        "order",
        "first_order_u",
        "shift",
    )
    return {
        **{name: getattr(found, name) for name in plain},
        "unit": found.settings.unit,
        "probability": found.settings.probability,
        "freedom_rule": found.settings.freedom_rule,
        "rows": [{**asdict(one), "share": one.share} for one in found.contributions],
        "pairs": [asdict(one) for one in found.pairs],
        "correlation_share": found.correlation_share,
        "second_order_share": found.second_order_share,
    }


def _steps(found: Propagation) -> tuple[Step, ...]:
    second = (
        Step(
            "second order: √Σ[½·(∂²f/∂xᵢ∂xⱼ)² + ∂f/∂xᵢ·∂³f/∂xᵢ∂xⱼ²]·u²(xᵢ)·u²(xⱼ) added to the variance",
            found.u,
        ),
    )
    return (
        Step("y = f(x₁, x₂, …) at the estimates", found.estimate),
        Step("cᵢ·u(xᵢ), cᵢ = ∂f/∂xᵢ", [one.contribution for one in found.contributions]),
        Step("u(y) = √ΣΣ cᵢ·u(xᵢ)·cⱼ·u(xⱼ)·r(xᵢ, xⱼ)", found.first_order_u),
        *(second if found.pairs else ()),
        Step("ν_eff = u⁴/Σ(uᵢ⁴/νᵢ)", found.nu_eff),
        Step(f"ν by the rule “{found.settings.freedom_rule}”", found.nu_used),
        Step(f"k for {found.settings.probability:g}, shape {found.shape}", found.k),
        Step("U = k·u(y)", found.U),
    )
