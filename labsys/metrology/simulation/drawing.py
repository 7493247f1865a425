"""Drawing the inputs of a model, block by block.

Lives here: independent and correlated draws. May not live here: the densities themselves, the model's values.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from labsys.metrology.simulation.densities import Normal
from labsys.metrology.simulation.model import ImpossibleCorrelation, MeasurementModel

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

NEGATIVE_AT_MOST = 1e-12
"""Eigenvalues of a correlation matrix down to minus this are rounding, not a contradiction."""


class Drawer:
    """Draws blocks of a model's inputs; the root of the correlation matrix is worked out once."""

    def __init__(self, model: MeasurementModel) -> None:
        tied = {name for one in model.correlations for name in (one.first, one.second)}
        self._alone = [one for one in model.inputs if one.name not in tied]
        self._tied: list[tuple[str, Normal]] = [
            (one.name, one.density)
            for one in model.inputs
            if one.name in tied and isinstance(one.density, Normal)
        ]
        self._root = _root(model, [name for name, _ in self._tied]) if tied else None

    def block(self, rng: np.random.Generator, count: int) -> dict[str, NDArray[np.float64]]:
        """Draw ``count`` values of every input: first the independent ones in their order, then the correlated."""
        drawn = {one.name: one.density.draw(rng, count) for one in self._alone}
        if self._root is not None:
            together = self._root @ rng.standard_normal((len(self._tied), count))
            for row, (name, density) in zip(together, self._tied, strict=True):
                row *= density.standard_deviation
                row += density.mean
                drawn[name] = row
        return drawn


def _root(model: MeasurementModel, names: list[str]) -> NDArray[np.float64]:
    """Factor the correlation matrix by Cholesky (JCGM 101:2008, 6.4.8.4).

    Where it is singular, as with r = 1, by its eigenvectors instead. Raises ImpossibleCorrelation for a contradiction.
    """
    import numpy as np

    matrix = np.eye(len(names))
    for one in model.correlations:
        i, j = names.index(one.first), names.index(one.second)
        matrix[i, j] = matrix[j, i] = one.r
    try:
        factor: NDArray[np.float64] = np.linalg.cholesky(matrix).astype(np.float64)
        return factor
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(matrix)
    if values.min() < -NEGATIVE_AT_MOST * len(names):
        last = model.correlations[-1]
        found = f"a matrix with the eigenvalue {values.min():.3g}"
        expected = "coefficients that don't contradict each other"
        raise ImpossibleCorrelation(first=last.first, second=last.second, expected=expected, found=found)
    root: NDArray[np.float64] = vectors * np.sqrt(np.clip(values, 0, None))
    return root
