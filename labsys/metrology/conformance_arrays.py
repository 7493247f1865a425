"""Conformance probability of many errors at once, the same figures as one by one.

Lives here: the array forms of conformance.py. May not live here: verdicts, the single result.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from labsys.metrology.conformance import Spread
from labsys.metrology.coverage import Shape
from labsys.metrology.exact import NotANumber
from labsys.metrology.limits import LimitMissing, Limits

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def conformance_probabilities(
    errors_mm: NDArray[np.float64], limits: Limits, spread: Spread
) -> NDArray[np.float64]:
    """Give the probability that each true error lies within ``limits`` (JCGM 106:2012, 7.2 to 7.4).

    ``errors_mm`` has any shape, the answer the same. An exact value (``spread.u_mm`` 0) on a limit, to half a
    picometre, conforms. Raises LimitMissing, NotANumber for NaN and infinities.
    """
    import numpy as np

    if limits.lower is None and limits.upper is None:
        raise LimitMissing()
    errors = np.asarray(errors_mm, dtype=np.float64)
    if not np.isfinite(errors).all():
        raise NotANumber(found="nan or infinity in an array")
    upper = math.inf if limits.upper is None else float(limits.upper)
    lower = -math.inf if limits.lower is None else float(limits.lower)
    beyond = _below(errors - upper, spread) + _below(lower - errors, spread)
    return np.clip(1.0 - beyond, 0.0, 1.0)


def _below(distances: NDArray[np.float64], spread: Spread) -> NDArray[np.float64]:
    """Give the probability that a centred value of this spread lies below each distance in mm."""
    import numpy as np
    from scipy.special import ndtr, stdtr

    if spread.u_mm == 0:
        return np.where(distances > 0.5e-9, 1.0, 0.0)
    z = distances / spread.u_mm
    if spread.shape is Shape.RECTANGULAR:
        return np.clip(0.5 + z / (2 * math.sqrt(3.0)), 0.0, 1.0)
    if spread.shape is Shape.TRAPEZOIDAL:
        return _below_in_trapezoid(z, spread.beta)
    found: NDArray[np.float64] = ndtr(z) if math.isinf(spread.nu) else stdtr(spread.nu, z)
    return found


def _below_in_trapezoid(z: NDArray[np.float64], beta: float) -> NDArray[np.float64]:
    """Integrate the trapezoid of unit variance piece by piece: its flat top, then its flank from outside."""
    import numpy as np

    base = math.sqrt(6.0 / (1.0 + beta**2))
    distance = np.minimum(np.abs(z), base)
    height = 1.0 / (base * (1.0 + beta))
    flank = 0.0 if beta == 1.0 else height / (2.0 * base * (1.0 - beta))
    tail = np.where(distance <= beta * base, 0.5 - height * distance, flank * (base - distance) ** 2)
    return np.where(z < 0, tail, 1.0 - tail)
