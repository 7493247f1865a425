"""The guards of many results that hold a wanted false-accept probability.

Lives here: the same bisection as ``guard_for_risk``, for all points side by side. May not live here: other rules.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from labsys.metrology.arrays.limits import LimitArrays
from labsys.metrology.arrays.spreads import UncertaintyArrays
from labsys.metrology.conformance import guard_for_risk

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

NEAR_RISK: Final = 1e-11
"""Share of the risk within which a step of the bisection is left to the function that takes one point."""

FINEST_MM: Final = 1e-11


def guards_for_risk(
    limits: LimitArrays, uncertainty: UncertaintyArrays, *, max_false_accept: float
) -> NDArray[np.float64]:
    """Find the guard w ≥ 0 (mm) of each result as ``guard_for_risk`` does; minus one where no guard holds the risk.

    JCGM 106:2012, 8.3.2.
    """
    import numpy as np

    search = _Search(limits, uncertainty, max_false_accept)
    high, near = search.solve()
    for point in np.flatnonzero(near):
        solved = guard_for_risk(
            limits.one(int(point)), uncertainty.one(int(point)), max_false_accept=max_false_accept
        )
        high[point] = -1.0 if solved is None else solved
    return high


class _Search:
    """The bisection: its steps are those of the one-by-one function, so that it ends at the same floats."""

    def __init__(self, limits: LimitArrays, uncertainty: UncertaintyArrays, max_false_accept: float) -> None:
        import numpy as np

        self.uncertainty, self.risk = uncertainty, max_false_accept
        self.two_sided = ~(limits.have_no_lower | limits.have_no_upper)
        self.width = np.where(self.two_sided, (limits.upper_pm - limits.lower_pm) / 1e9, 0.0)
        self.near = np.zeros(len(self.width), bool)

    def solve(self) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        """Give the guards, and which of them a last bit could have decided."""
        import numpy as np

        low = np.zeros(len(self.width))
        high = np.where(self.two_sided, self.width / 2, 1000.0 * self.uncertainty.u_mm)
        every = np.arange(len(low))
        at_zero, at_widest = self._exceeds(every, low), self._exceeds(every, high)
        # Ulps beyond the finest step would keep the search from ending; such points are out of any real range.
        open_ones = np.flatnonzero(at_zero & ~at_widest & (high - low > FINEST_MM))
        while len(open_ones):
            middle = (low[open_ones] + high[open_ones]) / 2
            exceeds = self._exceeds(open_ones, middle)
            low[open_ones] = np.where(exceeds, middle, low[open_ones])
            high[open_ones] = np.where(exceeds, high[open_ones], middle)
            open_ones = open_ones[high[open_ones] - low[open_ones] > FINEST_MM]
        high[at_widest] = -1.0
        high[~at_zero] = 0.0
        return high, self.near

    def _exceeds(self, points: NDArray[np.int64], guard: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Say whether the risk at each guard is above the wanted one; near ones are noted."""
        import numpy as np

        own = self.uncertainty.at(points)
        far = np.where(self.two_sided[points], own.below(guard - self.width[points]), 0.0)
        surplus = own.below(-guard) + far - self.risk
        self.near[points] |= np.abs(surplus) <= NEAR_RISK * self.risk
        return surplus > 0
