"""Combined and expanded uncertainty of many points, with each component's share.

Lives here: ``combine_many`` and the arrays it gives. May not live here: where components come from (specs).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from labsys.errors import LabError
from labsys.metrology.arrays.blocks import BLOCK, blocks
from labsys.metrology.arrays.bundles import bundle_up, contributions_of
from labsys.metrology.arrays.components import ComponentArrays
from labsys.metrology.arrays.coverage import SHAPES, cover_many
from labsys.metrology.arrays.spreads import UncertaintyArrays
from labsys.metrology.arrays.students import StudentFactors
from labsys.metrology.budget import NothingToCombine, combine
from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule, NoSpread

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SMALLEST_VARIANCE = 1e-280
"""Under this (mm²) squares lose digits, and a point is worked out by itself."""


class SumTooLarge(LabError, ValueError):
    """Components whose sum of squares no float can hold."""

    code = "sum-too-large"
    sentence = "Expected contributions under 1e150 mm at point {point}, found more. Check units and sizes."


@dataclass(frozen=True, slots=True, eq=False)
class BudgetArrays:
    """The results of N budgets: ``u_mm``, ``nu_eff``, ``nu_used``, ``k``, ``U_mm`` = k·u, each (N,).

    ``shapes`` are numbers in ``coverage.SHAPES``; ``betas`` are zero where the shape is no trapezoid; ``shares`` (N, M)
    of the variance add up to 1 at each point.
    """

    u_mm: NDArray[np.float64]
    nu_eff: NDArray[np.float64]
    nu_used: NDArray[np.float64]
    k: NDArray[np.float64]
    U_mm: NDArray[np.float64]
    shapes: NDArray[np.int8]
    betas: NDArray[np.float64]
    shares: NDArray[np.float64]

    @property
    def uncertainty(self) -> UncertaintyArrays:
        """Give what a verdict needs of them."""
        return UncertaintyArrays(self.U_mm, self.u_mm, self.nu_used, self.shapes, self.betas)

    @classmethod
    def empty(cls, points: int, components: int) -> BudgetArrays:
        """Make room for results."""
        import numpy as np

        u, nu, used, k, U, betas = np.empty((6, points))
        return cls(u, nu, used, k, U, np.empty(points, np.int8), betas, np.empty((points, components)))


def combine_many(
    components: ComponentArrays,
    *,
    probability: float = DEFAULT_PROBABILITY,
    freedom_rule: FreedomRule = FreedomRule.TRUNCATE,
    block: int = BLOCK,
) -> BudgetArrays:
    """Combine and expand N budgets as ``budget.combine`` does one.

    JCGM 100:2008, 5.1.2, 5.2.2, G.4.1; EA-4/02, S9, S10. Sums agree within a few units of the last place; shapes and
    degrees of freedom (up to a million) are the same: points nearer to an edge than rounding can tell go through
    ``combine``. Works in blocks of points, so that memory beyond input and result stays under 10·M·``block``
    floats. Raises NothingToCombine, NoSpread and BadComponent naming the point, SumTooLarge, ProbabilityOutOfRange.
    """
    students = StudentFactors(probability)
    points, columns = components.sizes.shape
    if not points or not columns:
        raise NothingToCombine(where=" at every point")
    found = BudgetArrays.empty(points, columns)
    for part in blocks(points, block):
        _block(components.at(part), part.start, found, students, freedom_rule)
    return found


def _block(
    part: ComponentArrays, start: int, into: BudgetArrays, students: StudentFactors, freedom_rule: FreedomRule
) -> None:
    """Work one block out and put it into its place."""
    import numpy as np

    with np.errstate(all="ignore"):
        contributions = contributions_of(part)
    _refuse_bad(part, contributions, start)
    bundles = bundle_up(part, contributions)
    variance = np.einsum("mn,mn->n", bundles.sums, bundles.sums)
    _refuse_extremes(variance, start)
    covered = cover_many(bundles, variance, students=students, freedom_rule=freedom_rule)
    place = slice(start, start + len(variance))
    u = np.sqrt(variance)
    into.u_mm[place], into.k[place], into.U_mm[place] = u, covered.k, covered.k * u
    into.nu_eff[place], into.nu_used[place] = covered.nu_eff, covered.nu_used
    into.shapes[place], into.betas[place] = covered.shape, covered.beta
    shares = contributions * (contributions if bundles.of_member is None else bundles.of_member)
    into.shares[place] = np.divide(shares, variance, out=shares).T
    for index in np.flatnonzero(covered.near | (variance < SMALLEST_VARIANCE)):
        _one_by_one(part, int(index), start, into, students.probability, freedom_rule)


def _one_by_one(
    part: ComponentArrays,
    index: int,
    start: int,
    into: BudgetArrays,
    probability: float,
    freedom_rule: FreedomRule,
) -> None:
    """Put in what ``combine`` says of one point."""
    budget = combine(
        part.one_by_one(index, called=start + index),
        probability=probability,
        freedom_rule=freedom_rule,
        where=f"point {start + index}",
    )
    place = start + index
    into.u_mm[place], into.k[place], into.U_mm[place] = budget.u_mm, budget.k, budget.U_mm
    into.nu_eff[place], into.nu_used[place] = budget.nu_eff, budget.nu_used
    into.shapes[place], into.betas[place] = SHAPES.index(budget.shape), budget.beta or 0.0
    into.shares[place] = [row.share for row in budget.rows]


def _refuse_bad(part: ComponentArrays, contributions: NDArray[np.float64], start: int) -> None:
    """Refuse what Component refuses, by making the first bad one."""
    import numpy as np

    fits = (part.nu >= 1).all() and (part.divisors > 0).all() and np.isfinite(part.divisors).all()
    # A product shows every NaN and infinity of its factors once the divisors are known to be good.
    if fits and part.sizes.min() >= 0 and contributions.max() < np.inf:
        return
    for index in range(len(part.sizes)):
        part.one_by_one(index, called=start + index)
        if not (contributions[:, index] < np.inf).all():
            raise SumTooLarge(point=start + index)


def _refuse_extremes(variance: NDArray[np.float64], start: int) -> None:
    import numpy as np

    if variance.max() == np.inf:
        raise SumTooLarge(point=start + int(np.argmax(variance)))
    if variance.min() == 0:
        raise NoSpread(where=f" for point {start + int(np.argmin(variance))}")
