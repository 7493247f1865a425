"""Contributions of a block of points, and the sums of those that are fully correlated.

Lives here: |c|·u of every component and the sign rule of correlation. May not live here: variance and factors
(budgets.py). Arrays lie here with components by rows, because sums over a few long rows are fast.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labsys.metrology.arrays.components import ALONE, ComponentArrays

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Bundles:
    """Independent parts of n points, (M, n): sums in mm; whether they can dominate and their ν, (M, n) or (M, 1).

    ``contributions`` are those of the single components; ``of_member`` is, for each component, the sum it belongs
    to (None: every component stands alone).
    """

    contributions: NDArray[np.float64]
    sums: NDArray[np.float64]
    can_dominate: NDArray[np.bool_]
    nu: NDArray[np.float64]
    of_member: NDArray[np.float64] | None


def contributions_of(part: ComponentArrays) -> NDArray[np.float64]:
    """Give |c|·size/divisor in mm, (M, n): the same floats as ``Component.contribution_mm``."""
    import numpy as np

    found = np.empty(part.sizes.shape[::-1])
    np.divide(part.sizes.T, _by_rows(part.divisors), out=found)
    np.multiply(found, np.abs(_by_rows(part.sensitivities)), out=found)
    return found


def bundle_up(part: ComponentArrays, contributions: NDArray[np.float64]) -> Bundles:
    """Add up what is fully correlated; a sum stands in the row of its first member, zeros in those of the others.

    A part can dominate where all its members above zero are rectangular, with infinite ν; its ν is the fewest among
    them.
    """
    import numpy as np

    rectangular, nu = _by_rows(part.are_rectangular), _by_rows(part.nu)
    # In an array of one row for all points nothing can be told apart, so it stays one column wide.
    pairs = _pairs(part)
    if not pairs:
        return Bundles(contributions, contributions, rectangular & np.isinf(nu), nu, None)
    is_there = contributions > 0
    state = _State(
        contributions.copy(), np.where(is_there, nu, np.inf), ~is_there | rectangular, _leaders(contributions)
    )
    for first, second, together in pairs:
        state.join(first, second, together)
    can_dominate = state.is_rectangular & np.isinf(state.nu)
    return Bundles(contributions, state.sums, can_dominate, state.nu, state.of_members())


@dataclass(slots=True)
class _State:
    """Sums while components join them; ``leaders`` (M, n) is the row each component's sum stands in."""

    sums: NDArray[np.float64]
    nu: NDArray[np.float64]
    is_rectangular: NDArray[np.bool_]
    leaders: NDArray[np.int64]

    def join(self, first: int, second: int, together: NDArray[np.bool_]) -> None:
        """Move row ``second`` into row ``first`` where both belong together and neither has moved."""
        import numpy as np

        moves = together & (self.leaders[first] == first) & (self.leaders[second] == second)
        self.sums[first] += np.where(moves, self.sums[second], 0.0)
        self.sums[second][moves] = 0.0
        self.nu[first] = np.where(moves, np.minimum(self.nu[first], self.nu[second]), self.nu[first])
        self.nu[second][moves] = np.inf
        self.is_rectangular[first] &= ~moves | self.is_rectangular[second]
        self.leaders[second][moves] = first

    def of_members(self) -> NDArray[np.float64]:
        """Give every component the sum it belongs to."""
        import numpy as np

        return np.take_along_axis(self.sums, self.leaders, axis=0)


def _pairs(part: ComponentArrays) -> list[tuple[int, int, NDArray[np.bool_]]]:
    """List the pairs of components that belong together at any point, first ones first."""
    import numpy as np

    if part.groups is None:
        return []
    groups, signs = _by_rows(part.groups), _by_rows(part.sensitivities < 0)
    found = []
    for second in range(len(groups)):
        for first in range(second):
            same = (groups[first] == groups[second]) & (groups[first] != ALONE)
            if same.any():
                together = same & (signs[first] == signs[second])
                found.append((first, second, np.broadcast_to(together, len(part.sizes))))
    return found


def _leaders(contributions: NDArray[np.float64]) -> NDArray[np.int64]:
    import numpy as np

    rows = np.arange(len(contributions))[:, None]
    return np.broadcast_to(rows, contributions.shape).copy()


def _by_rows(array: NDArray[Any]) -> NDArray[Any]:
    return array[:, None] if array.ndim == 1 else array.T
