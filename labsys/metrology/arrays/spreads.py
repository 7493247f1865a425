"""The uncertainties that many verdicts are taken with, and the probabilities that follow from them.

Lives here: U, u and shape of many results, their distribution functions, conformance probabilities. May not live
here: guards and acceptance limits (zones.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from labsys.metrology.arrays.components import ShapesDiffer
from labsys.metrology.arrays.coverage import NORMAL_OR_T, RECTANGULAR, SHAPES, TRAPEZOIDAL
from labsys.metrology.arrays.limits import LimitArrays
from labsys.metrology.conformance import Spread
from labsys.metrology.coverage import NoSpread
from labsys.metrology.limits import LimitMissing

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class UncertaintyArrays:
    """Expanded and standard uncertainty of N results in mm, with ν, shape (number in SHAPES) and β, each (N,).

    Raises ShapesDiffer, and NoSpread for a U or u that is negative or not finite.
    """

    U_mm: NDArray[np.float64]
    u_mm: NDArray[np.float64]
    nu: NDArray[np.float64]
    shapes: NDArray[np.int8]
    betas: NDArray[np.float64]

    def __post_init__(self) -> None:
        """Refuse arrays that don't belong together and uncertainties that are none."""
        import numpy as np

        for field in fields(self):
            found = getattr(self, field.name).shape
            if found != self.U_mm.shape or len(found) != 1:
                raise ShapesDiffer(name=field.name, expected=self.U_mm.shape, found=found)
        for array in (self.U_mm, self.u_mm):
            if len(array) and not (array.min() >= 0 and array.max() < np.inf):
                good = (array >= 0) & (array < np.inf)
                raise NoSpread(where=f" for point {int(np.argmin(good))}")

    @classmethod
    def normal(cls, U_mm: NDArray[np.float64], *, k: float = 2.0) -> UncertaintyArrays:
        """Take expanded uncertainties of which nothing is known but their ``k``."""
        import numpy as np

        count = len(U_mm)
        return cls(U_mm, U_mm / k, np.full(count, np.inf), np.zeros(count, np.int8), np.zeros(count))

    def at(self, points: Any) -> UncertaintyArrays:
        """Give those that a slice or an array of places names."""
        return UncertaintyArrays(*(getattr(self, field.name)[points] for field in fields(self)))

    def one(self, point: int) -> Spread:
        """Give the spread of one result."""
        shape = SHAPES[int(self.shapes[point])]
        return Spread(float(self.u_mm[point]), shape, float(self.nu[point]), float(self.betas[point]))

    def below(self, distance_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the probability that each true value lies below the measured one plus its distance, as ``Spread``."""
        import numpy as np

        found = np.where(distance_mm >= 0, 1.0, 0.0)
        has_spread = self.u_mm > 0
        z = np.divide(distance_mm, self.u_mm, out=np.zeros(len(found)), where=has_spread)
        for place, probabilities in (
            (NORMAL_OR_T, _below_in_t(z, self.nu)),
            (RECTANGULAR, np.clip(0.5 + z / (2 * math.sqrt(3.0)), 0.0, 1.0)),
            (TRAPEZOIDAL, _below_in_trapezoid(z, self.betas)),
        ):
            np.copyto(found, probabilities, where=has_spread & (self.shapes == place))
        return found


def conformance_probabilities(
    errors_pm: NDArray[np.int64], limits: LimitArrays, uncertainty: UncertaintyArrays
) -> NDArray[np.float64]:
    """Give the probability that each true error lies within its limits, as ``conformance_probability``.

    JCGM 106:2012, 7.2 to 7.4. Raises LimitMissing where a result has no limits.
    """
    import numpy as np

    no_lower, no_upper = limits.have_no_lower, limits.have_no_upper
    if (no_lower & no_upper).any():
        raise LimitMissing()
    above = np.where(no_upper, 1.0, uncertainty.below((limits.upper_pm - errors_pm) / 1e9))
    under = np.where(no_lower, 0.0, uncertainty.below((limits.lower_pm - errors_pm) / 1e9))
    inside = (limits.lower_pm <= errors_pm) & (errors_pm <= limits.upper_pm)
    return np.where(uncertainty.u_mm > 0, np.maximum(0.0, above - under), inside)


def _below_in_t(z: NDArray[np.float64], nu: NDArray[np.float64]) -> NDArray[np.float64]:
    import numpy as np
    from scipy.special import erfc, stdtr

    found: NDArray[np.float64] = erfc(-z / math.sqrt(2.0)) / 2
    finite = np.isfinite(nu)
    if finite.any():
        found[finite] = stdtr(nu[finite], z[finite])
    return found


def _below_in_trapezoid(z: NDArray[np.float64], beta: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the distribution function of a symmetric trapezoid of unit variance, half base √(6/(1 + β²))."""
    import numpy as np

    base = np.sqrt(6.0 / (1.0 + beta**2))
    distance = np.minimum(np.abs(z), base)
    height = 1.0 / (base * (1.0 + beta))
    steep = np.maximum(1.0 - beta, np.finfo(float).tiny)
    slope = 0.5 - height * (base - distance) ** 2 / (2.0 * base * steep)
    half = np.where(distance <= beta * base, height * distance, slope)
    return 0.5 + np.copysign(half, z)
