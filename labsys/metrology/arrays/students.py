"""Student factors of many degrees of freedom at one probability.

Lives here: the factors, each worked out once. May not live here: where degrees of freedom come from (coverage.py).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from labsys.metrology.coverage import student_factor

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_TABULATED: Final = 4096


class StudentFactors:
    """The two-sided factors t_p(ν) at one probability p, remembered for small whole ν.

    Raises ProbabilityOutOfRange.
    """

    def __init__(self, probability: float) -> None:
        import numpy as np

        self.probability = probability
        self._normal = student_factor(probability, math.inf)
        self._table = np.zeros(MOST_TABULATED + 1)

    def of(self, nu: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the factors, as ``student_factor`` one by one; ν under one is taken as one."""
        import numpy as np

        k = np.full(nu.shape, self._normal)
        finite = np.flatnonzero(np.isfinite(nu))
        if not len(finite):
            return k
        given = np.maximum(nu[finite], 1.0)
        whole = np.minimum(given, MOST_TABULATED).astype(np.int64)
        is_small, is_tabulated = given <= MOST_TABULATED, whole == given
        self._remember(whole[is_tabulated])
        found = np.where(is_small, self._table[whole], self._far_out(given))
        is_broken = is_small & ~is_tabulated
        found[is_broken] = self._quantiles(given[is_broken])
        k[finite] = found
        return k

    def _far_out(self, nu: NDArray[np.float64]) -> NDArray[np.float64]:
        """Expand in 1/ν around the normal factor: good to the last place or two above MOST_TABULATED.

        Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.7.5.
        """
        z, w = self._normal, 1 / nu
        terms = (
            (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
            (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
            (5 * z**5 + 16 * z**3 + 3 * z) / 96,
            (z**3 + z) / 4,
        )
        found: NDArray[np.float64] = terms[0] * w
        for term in terms[1:]:
            found += term
            found *= w
        return found + z

    def _remember(self, whole: NDArray[np.int64]) -> None:
        import numpy as np

        occurs = np.bincount(whole, minlength=MOST_TABULATED + 1) > 0
        wanted = np.flatnonzero(occurs & (self._table == 0))
        self._table[wanted] = self._quantiles(wanted.astype(np.float64))

    def _quantiles(self, nu: NDArray[np.float64]) -> NDArray[np.float64]:
        from scipy.special import stdtrit

        found: NDArray[np.float64] = stdtrit(nu, (1 + self.probability) / 2)
        return found
