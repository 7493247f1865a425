"""Each reliability law solved for one parameter, so that R(I) = R* holds exactly and the rest is free.

Lives here: parameters from an interval I, a target R* above 0.5 and free numbers of any sign. May not live here: fits.
Free numbers have shape (k − 1, m), the parameters they give (k, m), all above zero.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from labsys.metrology.intervals import laws

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


def single(hazard: Callable[[float], float]) -> Callable[[float, float, Array], Array]:
    """Make the pin of a law with one parameter, from its value of a·I at R*."""

    def pin(months: float, target: float, free: Array) -> Array:
        import numpy as np

        return np.full((1, free.shape[1]), hazard(target) / months)

    return pin


def log_hazard(target: float) -> float:
    """Give a·I of the exponential law at R*: −ln R*."""
    return -math.log(target)


def gamma_hazard(target: float) -> float:
    """Give a·I of the modified gamma law at R*."""
    from scipy.special import gammainccinv

    return float(gammainccinv(laws.SHOCKS, target))


def weibull(months: float, target: float, free: Array) -> Array:
    """Pin by ln b."""
    import numpy as np

    b = np.exp(free[0])
    return np.stack([np.exp(np.log(-np.log(target)) / b) / months, b])


def mixed(months: float, target: float, free: Array) -> Array:
    """Pin by ln b."""
    import numpy as np

    b = np.exp(free[0])
    return np.stack([np.expm1(-np.log(target) / b) / months, b])


def _shares(total: float, free: Array) -> tuple[Array, Array]:
    """Part a positive total in two positive shares, by a number from minus to plus infinity."""
    from scipy.special import expit

    return total * expit(free), total * expit(-free)


def _erf_total(target: float) -> float:
    from scipy.special import erfinv

    return float(1 / erfinv(target) ** 2)


def walk(months: float, target: float, free: Array) -> Array:
    """Pin by the logit of a's share."""
    import numpy as np

    start, grown = _shares(_erf_total(target), free[0])
    return np.stack([start, grown / months])


def restricted(months: float, target: float, free: Array) -> Array:
    """Pin by the logit of a's share and ln(c·I)."""
    import numpy as np

    start, grown = _shares(_erf_total(target), free[0])
    turns = np.exp(free[1])
    return np.stack([start, grown / -np.expm1(-turns), turns / months])


def mortality(months: float, target: float, free: Array) -> Array:
    """Pin by the logit of a's share."""
    import numpy as np

    steady, rising = _shares(-float(np.log(target)), free[0])
    return np.stack([steady / months, rising / months**2])


def warranty(months: float, target: float, free: Array) -> Array:
    """Pin by ln(a·I)."""
    import numpy as np

    a = np.exp(free[0]) / months
    return np.stack([a, months + np.log(target / (1 - target)) / a])


def drift(months: float, target: float, free: Array) -> Array:
    """Pin by the logits of the lower limit's share in 1 − R* and of a's share."""
    import numpy as np
    from scipy.special import ndtri

    low, high = _shares(1 - target, free[0])
    start, moved = _shares(1.0, free[1])
    reach = -ndtri(low)
    return np.stack([start * reach, moved * reach - ndtri(high), moved * reach / months])


def lognormal(months: float, target: float, free: Array) -> Array:
    """Pin by ln b."""
    import numpy as np
    from scipy.special import ndtri

    b = np.exp(free[0])
    return np.stack([np.exp(b * ndtri(1 - target)) / months, b])
