"""The one integral behind global risks: a normal population seen through a normal measurement.

Lives here: Gauss–Legendre panels laid where either of the two distributions changes. May not live here: what the
masses mean.

Why panels and not a bivariate distribution function: risks are small differences of large probabilities there, and
lose the digits that matter; here everything added is positive.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Sides: TypeAlias = tuple[float, float]
"""Lower and upper bound, infinite where there is none."""
Normal: TypeAlias = tuple[float, float]
"""Mean and standard deviation."""

REACH: Final = 38
"""Standard deviations beyond which a normal density is smaller than the smallest float."""
NODES: Final = 12


def normal_between(sides: Sides, mean: float, u: float) -> float:
    """Give the mass of a normal distribution between two bounds, looked up from the tail that keeps the digits."""
    low, high = (sides[0] - mean) / u, (sides[1] - mean) / u
    if low > 0:
        low, high = -high, -low
    return (math.erfc(-high / math.sqrt(2.0)) - math.erfc(-low / math.sqrt(2.0))) / 2


def mass_accepted(population: Normal, u_measurement: float, *, outside: Sides, accepted: Sides) -> float:
    """Give the probability that the true value lies outside one pair of bounds and the measured one inside another."""
    return sum(
        _integral(population, u_measurement, bounds, accepted, refused=False)
        for bounds in ((-math.inf, outside[0]), (outside[1], math.inf))
    )


def mass_refused(population: Normal, u_measurement: float, *, inside: Sides, accepted: Sides) -> float:
    """Give the probability that the true value lies inside one pair of bounds and the measured one outside another."""
    return _integral(population, u_measurement, inside, accepted, refused=True)


def _integral(
    population: Normal, u_measurement: float, bounds: Sides, accepted: Sides, *, refused: bool
) -> float:
    import numpy as np

    mean, spread = population
    # In units of the population's spread, so that neither millimetres nor nanometres strain a float.
    low, high = ((bound - mean) / spread for bound in bounds)
    zone = ((accepted[0] - mean) / spread, (accepted[1] - mean) / spread)
    edges = _edges(low, high, zone, u_measurement / spread)
    if len(edges) < 2:
        return 0.0
    nodes, weights = _rule()
    half = np.diff(edges) / 2
    values = (edges[:-1] + edges[1:])[:, None] / 2 + half[:, None] * nodes
    density = np.exp(-(values**2) / 2) / math.sqrt(2 * math.pi)
    share = _share(values, zone, u_measurement / spread, refused=refused)
    return float(((density * share) @ weights) @ half)


def _edges(low: float, high: float, zone: Sides, u: float) -> NDArray[np.float64]:
    """Lay an edge at every standard deviation of the population and of the measurement around each bound it has."""
    import numpy as np

    steps = np.arange(-REACH, REACH + 1, dtype=np.float64)
    bounds = [bound for bound in zone if math.isfinite(bound)]
    first, last = max(low, -float(REACH)), min(high, float(REACH))
    if first >= last:
        return np.empty(0)
    places = np.concatenate([steps, *(bound + u * steps for bound in bounds), [first, last]])
    return np.unique(np.clip(places, first, last))


@lru_cache(maxsize=1)
def _rule() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    import numpy as np

    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    return nodes, weights


def _share(values: NDArray[np.float64], zone: Sides, u: float, *, refused: bool) -> NDArray[np.float64]:
    """Give the share of measurements of each true value that falls inside the zone, or outside it."""
    import numpy as np
    from scipy.special import ndtr

    if u == 0:
        is_inside = (values >= zone[0]) & (values <= zone[1])
        return np.where(is_inside != refused, 1.0, 0.0)
    # Next to an almost exact measurement a distance may be beyond any float; infinite is what it then is.
    with np.errstate(over="ignore"):
        low, high = (zone[0] - values) / u, (zone[1] - values) / u
    if refused:
        return np.asarray(ndtr(low) + ndtr(-high))
    # Both bounds on the far side: from the other tail, where the difference keeps its digits.
    flipped = low > 0
    return np.asarray(np.where(flipped, ndtr(-low) - ndtr(-high), ndtr(high) - ndtr(low)))
