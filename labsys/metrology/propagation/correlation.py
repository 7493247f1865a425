"""Correlation between inputs: a checked matrix, and which inputs hang together.

Lives here: the matrix and what is refused. May not live here: where a correlation comes from (inputs.py).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from labsys.errors import LabError

ROUNDING = 1e-9
"""How far a matrix may be from symmetric, its diagonal from one, its smallest eigenvalue below zero."""


class BadCorrelation(LabError, ValueError):
    """A correlation matrix that can't be one."""

    code = "bad-correlation"
    sentence = "Correlation: expected {expected}, found {found}. Correct the coefficients."


@dataclass(frozen=True, slots=True)
class Correlation:
    """Coefficients r between the inputs ``names``: symmetric, one on the diagonal, positive semidefinite.

    JCGM 100:2008, 5.2.2. Raises BadCorrelation.
    """

    names: tuple[str, ...]
    matrix: tuple[tuple[float, ...], ...]

    def __post_init__(self) -> None:
        """Refuse what no set of quantities can have."""
        size = len(self.names)
        rows = [len(row) for row in self.matrix]
        _expect(rows == [size] * size, f"{size} rows of {size} coefficients", f"rows of {rows}")
        _expect(len(set(self.names)) == size, "inputs of different names", self.names)
        for i, row in enumerate(self.matrix):
            for j, r in enumerate(row):
                self._expect_coefficient(i, j, r)
        _expect_possible(self.matrix)

    def r(self, a: str, b: str) -> float:
        """Give the coefficient of two inputs; those that are not named here are independent of all others."""
        if a == b:
            return 1.0
        if a not in self.names or b not in self.names:
            return 0.0
        return self.matrix[self.names.index(a)][self.names.index(b)]

    def among(self, names: Collection[str]) -> Correlation:
        """Give the part that concerns ``names``."""
        kept = tuple(name for name in self.names if name in names)
        return Correlation(kept, tuple(tuple(self.r(a, b) for b in kept) for a in kept))

    def bundles(self, names: Sequence[str]) -> list[list[str]]:
        """Part ``names`` into bundles that are independent of each other, in the order given."""
        left, bundles = list(names), []
        while left:
            bundle = [left.pop(0)]
            for member in bundle:  # grows while it is walked
                near = [name for name in left if self.r(member, name) != 0]
                bundle += near
                left = [name for name in left if name not in near]
            bundles.append(sorted(bundle, key=names.index))
        return bundles

    def _expect_coefficient(self, i: int, j: int, r: float) -> None:
        pair = f"{r} for {self.names[i]} and {self.names[j]}"
        _expect(math.isfinite(r) and abs(r) <= 1 + ROUNDING, "coefficients from −1 to 1", pair)
        _expect(abs(r - self.matrix[j][i]) <= ROUNDING, "the same coefficient both ways", pair)
        _expect(i != j or abs(r - 1) <= ROUNDING, "one on the diagonal", pair)


def of_pairs(pairs: Mapping[tuple[str, str], float]) -> Correlation:
    """Make the matrix out of the coefficients that are not zero, each pair once; raises BadCorrelation."""
    names = tuple(dict.fromkeys(name for pair in pairs for name in pair))
    both = {pair: r for (a, b), r in pairs.items() for pair in ((a, b), (b, a))}
    for a, b in pairs:
        _expect(a != b, "two different inputs", f"{a} twice")
        _expect((b, a) not in pairs, "each pair of inputs once", f"{a} and {b} both ways")
    return Correlation(
        names, tuple(tuple(1.0 if a == b else both.get((a, b), 0.0) for b in names) for a in names)
    )


def _expect_possible(matrix: Sequence[Sequence[float]]) -> None:
    if not matrix:
        return
    import numpy as np

    smallest = float(np.linalg.eigvalsh(np.asarray(matrix, dtype=float))[0])
    _expect(
        smallest >= -ROUNDING * len(matrix),
        "coefficients that can hold at once (positive semidefinite)",
        f"a smallest eigenvalue of {smallest:.3g}",
    )


def _expect(holds: bool, expected: str, found: object) -> None:
    if not holds:
        raise BadCorrelation(expected=expected, found=found)


INDEPENDENT = Correlation((), ())
"""No correlation between any inputs."""
