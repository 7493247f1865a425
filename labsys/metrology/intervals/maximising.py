"""The maximum of a smooth function of a few numbers of any sign, from a grid of starts.

Lives here: the search and the proof that it arrived. May not live here: what is maximised.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labsys.errors import LabError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Function = Callable[[Array], Array]

REACH = 14.0
"""Numbers are looked for from minus to plus this; as logarithms, factors from 8e-7 to 1.2e6."""

GRID = {1: 61, 2: 21, 3: 15}
"""Places along each axis by the count of numbers, and how many of the best are followed."""

SPAN = (-8.0, 6.0)
STARTS = {1: 3, 2: 4, 3: 12}
STEP = 1e-5
FLAT = 1e-4
"""A direction in which ln L bends less than this leads to no maximum but to an edge."""

LEFT_TO_GAIN = 1e-6
"""The search has arrived where this share of ln L is left to gain, a ten-thousandth of what decides anything."""


class NotConverged(LabError, ValueError):
    """The search for a maximum ended where the function still rises."""

    code = "search-not-converged"
    sentence = (
        "Expected the search for the greatest likelihood to arrive, found it still rising by {slope:.3g} per step in "
        "{parameter}. Take a simpler model or more data."
    )


@dataclass(frozen=True, slots=True)
class Maximum:
    """Where the greatest value was found."""

    place: Array
    value: float


def maximise(function: Function, dimensions: int, *, names: tuple[str, ...] = ()) -> Maximum:
    """Find the greatest value of ``function``, which takes places (k, m) and gives values (m,).

    The best few places of a grid are followed uphill (L-BFGS-B, central differences, all at once). Raises NotConverged
    unless nothing is left to gain at the best, slopes that point beyond ±14 not counted.
    """
    import numpy as np

    if dimensions == 0:
        nothing: Array = np.empty((0, 1))
        return Maximum(nothing[:, 0], float(function(nothing)[0]))
    ends = [_climb(function, start) for start in _starts(function, dimensions)]
    place = max(ends, key=lambda one: float(function(one[:, np.newaxis])[0]))
    value = float(function(place[:, np.newaxis])[0])
    slopes = _outward_removed(slope_at(function, place), place)
    if not _has_arrived(function, place, slopes, LEFT_TO_GAIN * max(1.0, abs(value))):
        worst = int(np.argmax(np.abs(slopes)))
        name = names[worst] if names else f"number {worst + 1}"
        raise NotConverged(slope=float(slopes[worst]), parameter=name)
    return Maximum(place, value)


def slope_at(function: Function, place: Array) -> Array:
    """Give the slope of ``function`` at one ``place`` (k,) by central differences."""
    import numpy as np

    steps = STEP * np.eye(place.size)
    values = function(place[:, np.newaxis] + np.concatenate([steps, -steps], axis=1))
    found: Array = (values[: place.size] - values[place.size :]) / (2 * STEP)
    return found


def bend_at(function: Function, place: Array, step: float = 1e-3) -> Array:
    """Give the second derivatives of ``function`` at one ``place``, shape (k, k), by central differences."""
    import numpy as np

    k = place.size
    pairs = [(i, j) for i in range(k) for j in range(k)]
    signs = ((1, 1), (1, -1), (-1, 1), (-1, -1))
    unit = step * np.eye(k)
    places = np.stack([place + a * unit[i] + b * unit[j] for i, j in pairs for a, b in signs], axis=1)
    values = function(places).reshape(len(pairs), 4)
    second = (values[:, 0] - values[:, 1] - values[:, 2] + values[:, 3]) / (4 * step * step)
    found: Array = second.reshape(k, k)
    return found


def edges_at(function: Function, place: Array) -> tuple[bool, ...]:
    """Say which numbers at a maximum take part in a direction along which ``function`` is flat: they ran to an edge."""
    import numpy as np

    values, directions = np.linalg.eigh(-bend_at(function, place))
    flat = np.abs(directions[:, values < FLAT])
    return tuple(bool(one) for one in (flat > 0.1).any(axis=1) | (np.abs(place) > REACH - 1e-6))


def _starts(function: Function, dimensions: int) -> list[Array]:
    """Take the best place of each part of the grid (a third along each axis), the best of these first."""
    import numpy as np

    axis = np.linspace(*SPAN, GRID[dimensions])
    grid = np.stack([one.ravel() for one in np.meshgrid(*[axis] * dimensions)])
    parts = np.minimum(np.floor(3 * (grid - SPAN[0]) / (SPAN[1] - SPAN[0])), 2)
    chosen: dict[tuple[float, ...], Array] = {}
    for index in np.argsort(-function(grid)):
        chosen.setdefault(tuple(parts[:, index].tolist()), grid[:, index])
        if len(chosen) == STARTS[dimensions]:
            break
    return list(chosen.values())


def _climb(function: Function, start: Array) -> Array:
    import numpy as np
    from scipy.optimize import minimize

    def downhill(place: Array) -> tuple[float, Array]:
        return -float(function(place[:, np.newaxis])[0]), -slope_at(function, place)

    ended = minimize(
        downhill,
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=[(-REACH, REACH)] * start.size,
        options={"maxiter": 500, "ftol": 1e-15, "gtol": 1e-8},
    )
    found: Array = ended.x
    return found


def _has_arrived(function: Function, place: Array, slopes: Array, left: float) -> bool:
    """Say that less than ``left`` is to gain, ½·gᵀH⁻¹g: on a steep ridge a slope may be large for nothing."""
    import numpy as np

    if float((slopes**2).sum()) / (2 * FLAT) <= left:
        return True  # however little the function bends
    values, directions = np.linalg.eigh(-bend_at(function, place))
    along = (directions * slopes[:, np.newaxis]).sum(axis=0)
    return bool((along**2 / np.maximum(values, FLAT)).sum() / 2 <= left)


def _outward_removed(slopes: Array, place: Array) -> Array:
    import numpy as np

    is_outward = ((place >= REACH - 1e-6) & (slopes > 0)) | ((place <= 1e-6 - REACH) & (slopes < 0))
    found: Array = np.where(is_outward, 0.0, slopes)
    return found
