"""The law of propagation of uncertainty for any model that can be written as a sum of terms.

Lives here: ``propagate`` and how results hang together. May not live here: simulation, components of a procedure.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from labsys.errors import LabError
from labsys.metrology.components import Distribution
from labsys.metrology.coverage import NoSpread, Part, cover
from labsys.metrology.propagation.correlation import INDEPENDENT, Correlation
from labsys.metrology.propagation.inputs import Input
from labsys.metrology.propagation.known import Known, OutOfNumbers, covariances, know, total
from labsys.metrology.propagation.model import Model
from labsys.metrology.propagation.results import (
    Contribution,
    Order,
    PairContribution,
    Propagation,
    Settings,
    SharedFreedom,
)
from labsys.metrology.propagation.second_order import (
    PairTerm,
    outweighs_first,
    pair_terms,
    refuse_correlated,
)


class FreedomUndecided(LabError, ValueError):
    """Correlated inputs with different degrees of freedom, and no rule for them."""

    code = "freedom-undecided"
    sentence = (
        "Expected one number of degrees of freedom for the correlated inputs {names}, found {found}. Give them the "
        "same, or ask for the least of them."
    )


def propagate(
    model: Model,
    inputs: Sequence[Input],
    *,
    correlation: Correlation = INDEPENDENT,
    settings: Settings | None = None,
) -> Propagation:
    """Carry the uncertainties of ``inputs`` through ``model`` and expand the result.

    First order with correlations (JCGM 100:2008, 5.1.2, 5.2.2); second order by the note to 5.1.2, as the settings
    say, counted with infinite ν. Effective degrees of freedom: G.4.1. The factor k follows ``coverage.cover``.
    Raises BadModel (inputs that aren't those of the model, too), OutsideDomain, BadCorrelation, NoSpread,
    FreedomUndecided, SecondOrderOfCorrelated, OutOfNumbers, ProbabilityOutOfRange.
    """
    settings = settings or Settings()
    known = know(model, inputs, correlation)
    terms = _terms(known, settings.order)
    first = total(known.covariances.values())
    variance = first + math.fsum(term.variance for term in terms)
    if first == 0 and not terms:
        raise NoSpread(where="")
    if not 0 < variance < math.inf:
        raise OutOfNumbers(found=variance)
    return _result(known, terms, settings, variance=variance, first=max(first, 0.0))


def results_correlation(
    first: Model, second: Model, inputs: Sequence[Input], *, correlation: Correlation = INDEPENDENT
) -> float:
    """Give r of two results that share inputs, first order (JCGM 100:2008, H.2.3 and F.1.2.3).

    Each model needs all inputs it names among ``inputs``. Raises as ``propagate`` does.
    """
    one, other = (_alone(each, inputs, correlation) for each in (first, second))
    both = total(covariances(one.moved, other.moved, correlation).values())
    squares = [total(each.covariances.values()) for each in (one, other)]
    if min(squares) <= 0:
        raise NoSpread(where="")
    return both / math.sqrt(squares[0] * squares[1])


def _alone(model: Model, inputs: Sequence[Input], correlation: Correlation) -> Known:
    own = [one for one in inputs if one.name in model.inputs]
    return know(model, own, correlation.among(model.inputs))


def _terms(known: Known, order: Order) -> tuple[PairTerm, ...]:
    if order is Order.FIRST:
        return ()
    terms = pair_terms(known)
    if order is Order.AUTO and not outweighs_first(terms, known):
        return ()
    refuse_correlated(terms, known)
    return terms


def _parts(known: Known, terms: Sequence[PairTerm], shared: SharedFreedom) -> list[Part]:
    """Make the independent parts of the result; sizes are relative, which is all that k and ν depend on."""
    parts = []
    for bundle in known.correlation.bundles(list(known.inputs)):
        spread = {name: known.moved[name] for name in bundle if known.moved[name] != 0}
        variance = total(covariances(spread, spread, known.correlation).values())
        if variance > 0:
            is_one_rectangle = _is_one_rectangle(spread, known)
            parts.append(Part(math.sqrt(variance), is_one_rectangle, _freedom(spread, known, shared)))
    second = math.fsum(term.variance for term in terms)
    return [*parts, Part(math.sqrt(second), False, math.inf)] if second > 0 else parts


def _is_one_rectangle(spread: Mapping[str, float], known: Known) -> bool:
    """Say whether a bundle moves as one rectangular quantity: all rectangular, each fully tied to the others."""
    return all(
        known.inputs[a].component.distribution is Distribution.RECTANGULAR
        and abs(known.correlation.r(a, b)) == 1
        for a in spread
        for b in spread
    )


def _freedom(spread: Mapping[str, float], known: Known, shared: SharedFreedom) -> float:
    freedoms = {known.inputs[name].nu for name in spread}
    if len(freedoms) > 1 and shared is SharedFreedom.REFUSE:
        raise FreedomUndecided(names=", ".join(spread), found=", ".join(f"{nu:g}" for nu in sorted(freedoms)))
    return min(freedoms)


def _result(
    known: Known, terms: tuple[PairTerm, ...], settings: Settings, *, variance: float, first: float
) -> Propagation:
    u = known.scale * math.sqrt(variance)
    coverage = cover(
        _parts(known, terms, settings.shared_freedom),
        probability=settings.probability,
        freedom_rule=settings.freedom_rule,
    )
    if not math.isfinite(coverage.k * u):
        raise OutOfNumbers(found=coverage.k * u)
    return Propagation(
        estimate=known.slopes.value,
        u=u,
        U=coverage.k * u,
        k=coverage.k,
        shape=coverage.shape,
        beta=coverage.beta,
        nu_eff=coverage.nu_eff,
        nu_used=coverage.nu_used,
        order=Order.SECOND if terms else Order.FIRST,
        first_order_u=known.scale * math.sqrt(first),
        shift=_shift(known),
        contributions=_contributions(known, variance),
        pairs=tuple(_pair(term, known.scale, variance) for term in terms),
        settings=settings,
    )


def _shift(known: Known) -> float:
    own = ((known.inputs[a].u, slope) for (a, b), slope in known.slopes.second.items() if a == b)
    return math.fsum(slope * u * u / 2 for u, slope in own)


def _contributions(known: Known, variance: float) -> tuple[Contribution, ...]:
    tied = known.covariances
    return tuple(
        Contribution(
            name=name,
            estimate=one.estimate,
            u=one.u,
            nu=one.nu,
            sensitivity=known.slopes.first[name],
            contribution=known.slopes.first[name] * one.u,
            own_share=tied[name, name] / variance,
            correlation_share=math.fsum(covariance for (a, b), covariance in tied.items() if a == name != b)
            / variance,
        )
        for name, one in known.inputs.items()
    )


def _pair(term: PairTerm, scale: float, variance: float) -> PairContribution:
    root = math.copysign(math.sqrt(abs(term.variance)), term.variance)
    return PairContribution(term.first, term.second, scale * root, term.variance / variance)
