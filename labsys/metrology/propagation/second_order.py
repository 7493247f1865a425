"""What the second order of a model adds to the variance of its result.

Lives here: the terms of JCGM 100:2008, 5.1.2 (note). May not live here: whether they're asked for (propagate.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.errors import LabError
from labsys.metrology.propagation.known import Known, OutOfNumbers


class SecondOrderOfCorrelated(LabError, ValueError):
    """Second-order terms of an input that is correlated, which the formula doesn't cover."""

    code = "second-order-of-correlated"
    sentence = (
        "Second order: expected independent inputs, found “{first}” correlated with “{second}”. Ask for the first "
        "order, or simulate."
    )


@dataclass(frozen=True, slots=True)
class PairTerm:
    """Two inputs (or one twice): ``bend`` = |∂²f/∂a∂b|·u(a)·u(b) and the ``variance`` they add, both relative."""

    first: str
    second: str
    bend: float
    variance: float


def pair_terms(known: Known) -> tuple[PairTerm, ...]:
    """Give the terms Σᵢ Σⱼ [½·(∂²f/∂xᵢ∂xⱼ)² + ∂f/∂xᵢ·∂³f/∂xᵢ∂xⱼ²]·u²(xᵢ)·u²(xⱼ) by pair of inputs.

    For independent inputs that spread symmetrically; an input's own square counts as for a normal distribution, which
    is more than for any narrower shape. JCGM 100:2008, 5.1.2 note. Raises OutOfNumbers.
    """
    slopes = known.slopes
    order = {name: place for place, name in enumerate(known.inputs)}
    pairs = [*slopes.second, *((a, b) if order[a] <= order[b] else (b, a) for a, b in slopes.third)]
    terms = []
    for a, b in dict.fromkeys(pairs):
        bend = slopes.second.get((a, b), 0.0) * known.inputs[a].u * known.inputs[b].u / known.scale
        crossed = _crossed(known, a, b) + (_crossed(known, b, a) if a != b else 0.0)
        term = PairTerm(a, b, abs(bend), bend * bend * (0.5 if a == b else 1.0) + crossed)
        if not math.isfinite(term.variance):
            raise OutOfNumbers(found=term.variance)
        if term.bend > 0 or term.variance != 0:
            terms.append(term)
    return tuple(terms)


def outweighs_first(terms: Sequence[PairTerm], known: Known) -> bool:
    """Say whether any input moves the result more by its bends than by its slope."""
    return any(
        term.bend * (math.sqrt(0.5) if term.first == term.second else 1.0) > abs(known.moved[name])
        for term in terms
        for name in (term.first, term.second)
    )


def refuse_correlated(terms: Sequence[PairTerm], known: Known) -> None:
    """Raise SecondOrderOfCorrelated where an input of a term is correlated with any other."""
    for term in terms:
        for name in (term.first, term.second):
            for other in known.inputs:
                if other != name and known.correlation.r(name, other) != 0:
                    raise SecondOrderOfCorrelated(first=name, second=other)


def _crossed(known: Known, a: str, b: str) -> float:
    """Give ∂f/∂a·∂³f/∂a∂b²·u²(a)·u²(b), relative."""
    u_a, u_b = known.inputs[a].u, known.inputs[b].u
    return known.moved[a] * (known.slopes.third.get((a, b), 0.0) * u_a * u_b * u_b / known.scale)
