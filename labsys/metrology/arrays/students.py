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
        is_tabulated = whole == given
        self._remember(whole[is_tabulated])
        k[finite] = self._table[whole]
        k[finite[~is_tabulated]] = self._quantiles(given[~is_tabulated])
        return k

    def _remember(self, whole: NDArray[np.int64]) -> None:
        import numpy as np

        occurs = np.bincount(whole, minlength=MOST_TABULATED + 1) > 0
        wanted = np.flatnonzero(occurs & (self._table == 0))
        self._table[wanted] = self._quantiles(wanted.astype(np.float64))

    def _quantiles(self, nu: NDArray[np.float64]) -> NDArray[np.float64]:
        from scipy.special import stdtrit

        found: NDArray[np.float64] = stdtrit(nu, (1 + self.probability) / 2)
        return found
