"""The coverage rules of ``coverage.cover`` for many points: which shape, which k, how many degrees of freedom.

Lives here: rules (i) to (iii), and which points lie too near an edge for arrays. May not live here: budgets.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from labsys.metrology.arrays.bundles import Bundles
from labsys.metrology.arrays.students import StudentFactors
from labsys.metrology.coverage import REST_SHARE, FreedomRule, Shape, rectangular_factor

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SHAPES: Final = tuple(Shape)
"""Shapes in the order of their numbers in an array."""

NORMAL_OR_T, RECTANGULAR, TRAPEZOIDAL = (
    SHAPES.index(one) for one in (Shape.NORMAL_OR_T, Shape.RECTANGULAR, Shape.TRAPEZOIDAL)
)
NEAR: Final = 1e-12
"""Share within which a comparison is left to the functions that take one point: far above what rounding does."""

INDIFFERENT: Final = 1e6
"""Degrees of freedom above which one more or less changes no digit of k, and no last bit is looked at."""


@dataclass(frozen=True, slots=True, eq=False)
class Covered:
    """Shape (number in SHAPES), β (0 where there's no trapezoid), k and ν of n points; ``near`` an edge: not to be
    trusted.
    """

    shape: NDArray[np.int8]
    beta: NDArray[np.float64]
    k: NDArray[np.float64]
    nu_eff: NDArray[np.float64]
    nu_used: NDArray[np.float64]
    near: NDArray[np.bool_]


def cover_many(
    bundles: Bundles, variance: NDArray[np.float64], *, students: StudentFactors, freedom_rule: FreedomRule
) -> Covered:
    """Choose shape and k of n points by the rules of ``coverage.cover``; ``variance`` (mm²) is above zero."""
    import numpy as np

    nu_eff = _effective_freedom(bundles, variance)
    nu_used, near = _apply_rule(nu_eff, freedom_rule)
    k = students.of(nu_used)
    shape, beta = np.zeros(len(variance), np.int8), np.zeros(len(variance))
    if bundles.can_dominate.any():
        _by_dominance(bundles, variance, students.probability, (shape, beta, k, near))
    return Covered(shape, beta, k, nu_eff, nu_used, near)


def _effective_freedom(bundles: Bundles, variance: NDArray[np.float64]) -> NDArray[np.float64]:
    import numpy as np

    spread = np.zeros(len(variance))
    for part, nu in zip(bundles.sums, bundles.nu, strict=True):
        if np.isfinite(nu).any():
            spread += (part * part / variance) ** 2 / nu
    found = np.full(len(variance), np.inf)
    np.divide(1.0, spread, out=found, where=spread > 0)
    return found


def _apply_rule(
    nu_eff: NDArray[np.float64], rule: FreedomRule
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Give ν after the rule, and where a last bit would decide it."""
    import numpy as np

    if rule is FreedomRule.KEEP:
        return nu_eff, nu_eff < 1
    if np.isinf(nu_eff).all():
        return nu_eff, np.zeros(len(nu_eff), bool)
    moved = nu_eff + (1e-9 if rule is FreedomRule.TRUNCATE else 0.5)
    with np.errstate(invalid="ignore"):
        near = (np.abs(moved - np.rint(moved)) <= moved * 1e-14) & (moved < INDIFFERENT)
    return np.maximum(1.0, np.floor(moved)), near


def _by_dominance(
    bundles: Bundles,
    variance: NDArray[np.float64],
    probability: float,
    into: tuple[NDArray[np.int8], NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]],
) -> None:
    """Put in rules (i) and (ii). Only a part that can dominate is looked at; that it leaves little beside it is what
    makes it the largest, and the second one has to be larger than all that can't.
    """
    import numpy as np

    shape, beta, k, near = into
    first, second, other = _largest(bundles)
    surplus, margin = _surplus(variance, first * first)
    one = (surplus <= 0) & (first > 0)
    near |= np.abs(surplus) <= margin
    shape[one], k[one] = RECTANGULAR, rectangular_factor(probability)
    surplus, margin = _surplus(variance, first * first + second * second)
    some = np.flatnonzero(~one & (surplus <= margin) & (second >= other * (1 - NEAR)) & (second > 0))
    first, second, other, surplus, margin = (each[some] for each in (first, second, other, surplus, margin))
    edge = (first - second) / (first + second)
    above = probability - 2 * edge / (1 + edge)
    near[some] |= (np.abs(surplus) <= margin) | (np.abs(above) <= NEAR)
    near[some] |= np.abs(second - other) <= NEAR * second
    some, edge = some[above > 0], edge[above > 0]
    shape[some], beta[some], k[some] = TRAPEZOIDAL, edge, _trapezoidal_factors(probability, edge)


def _surplus(
    variance: NDArray[np.float64], lead: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give by how much the rest's square exceeds what the dominant part allows, and what a last bit could do to it."""
    return (variance - lead) - REST_SHARE * REST_SHARE * lead, NEAR * lead


def _largest(
    bundles: Bundles,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Give the two largest parts that can dominate and the largest that can't, in mm, zeros where there's none."""
    import numpy as np

    count = bundles.sums.shape[1]
    first, second, other = np.zeros(count), np.zeros(count), np.zeros(count)
    for part, can in zip(bundles.sums, bundles.can_dominate, strict=True):
        every, some = bool(can.all()), bool(can.any())
        if not every:
            np.maximum(other, np.where(can, 0.0, part) if some else part, out=other)
        if some:
            candidate = part if every else np.where(can, part, 0.0)
            np.maximum(second, np.minimum(first, candidate), out=second)
            np.maximum(first, candidate, out=first)
    return first, second, other


def _trapezoidal_factors(probability: float, beta: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give k of trapezoids, as ``trapezoidal_factor`` (EA-4/02, S10)."""
    import numpy as np

    k: NDArray[np.float64] = 1 - np.sqrt((1 - probability) * (1 - beta**2))
    k /= np.sqrt((1 + beta**2) / 6)
    return k
