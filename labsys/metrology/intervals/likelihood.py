"""The logarithm of the likelihood of checks under a model, for many sets of parameters at once.

Lives here: ln L and what it is made of. May not live here: its maximum.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from labsys.metrology.intervals.checks import Checks
from labsys.metrology.intervals.models import Model

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

FLOOR = -700.0
"""ln R is kept above this (R of 1e-304), so that a hopeless set of parameters gets a bad figure and not none."""


class Likelihood:
    """ln L = Σ in·[ln R(age) − ln R(start)] + out·ln[1 − R(age)/R(start)], with R(0) counted as 1.

    Each check is one trial of an item known in tolerance at ``start``. Added up along an item this is ln[R(a) − R(b)]
    for one found out between two checks and ln R(c) for one still in (renew if failed), and x·ln R + (n − x)·ln(1 − R)
    where every check begins anew (renew always).
    """

    def __init__(self, checks: Checks, model: Model) -> None:
        import numpy as np

        self.model = model
        self._start = np.array([one.start for one in checks.each])
        self._age = np.array([one.age for one in checks.each])
        self._in = np.array([one.in_tolerance for one in checks.each], dtype=float)
        self._out = np.array([one.out for one in checks.each], dtype=float)

    def log_chance(self, parameters: Array) -> Array:
        """Give ln of the chance to be in at each check, given in at its start, from (k, m) to (m, n)."""
        import numpy as np

        at = parameters[:, :, np.newaxis]
        with np.errstate(all="ignore"):
            before = np.zeros((parameters.shape[1], self._start.size))
            begun = self._start > 0
            before[:, begun] = self._kept(self._start[begun], at)
            # A drift model may rise at first; a check later can't be less of a test than none.
            chance: Array = np.minimum(self._kept(self._age, at) - before, -1e-300)
        return chance

    def __call__(self, parameters: Array) -> Array:
        """Give ln L for ``parameters`` of shape (k, m), all above zero; answers have shape (m,)."""
        chance = self.log_chance(parameters)
        # No product of matrices: on arrays this small its threads would take most of the time.
        found: Array = (chance * self._in + log_of_rest(chance) * self._out).sum(axis=1)
        return found

    def _kept(self, ages: Array, at: Array) -> Array:
        import numpy as np

        # fmax takes the floor where there is no number.
        found: Array = np.fmax(self.model.log_reliability(ages, at), FLOOR)
        return found


def log_of_rest(log_p: Array) -> Array:
    """Give ln(1 − p) from ln p below zero, with all digits at both ends."""
    import numpy as np

    found: Array = np.where(
        log_p > -np.log(2.0), np.log(-np.expm1(log_p)), np.log1p(-np.exp(np.minimum(log_p, -0.5)))
    )
    return found
