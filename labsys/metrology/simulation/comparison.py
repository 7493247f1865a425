"""First order held against a simulation: is its interval good enough? (JCGM 101:2008, 8).

Lives here: the comparison and its verdict. May not live here: how either side was worked out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from labsys.errors import LabError
from labsys.metrology.simulation.stability import numerical_tolerance
from labsys.metrology.simulation.trials import Simulation

LARGEST_DIFFERENCE: Final = 0.05
"""Where U and the simulated half-width differ by more than this share of U, the simulated interval is to be used."""

FINER: Final = 0.2
"""Share of δ to which a simulation should have settled before it judges (8.2)."""


class ProbabilitiesDiffer(LabError, ValueError):
    """Two intervals of different coverage."""

    code = "probabilities-differ"
    sentence = "Expected both intervals to cover {expected:g}, found that the simulated one covers {found:g}."


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """An estimate with standard and expanded uncertainty for coverage probability p, in the unit of the values."""

    y: float
    u: float
    U: float
    probability: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """Both intervals side by side: ``d_low`` = |y − U − y_low|, ``d_high`` = |y + U − y_high|, ``tolerance`` = δ."""

    first: FirstOrder
    simulated: Simulation
    digits: int
    tolerance: float

    @property
    def d_low(self) -> float:
        """Give the distance of the lower ends."""
        return abs(self.first.y - self.first.U - self.simulated.interval.low)

    @property
    def d_high(self) -> float:
        """Give the distance of the upper ends."""
        return abs(self.first.y + self.first.U - self.simulated.interval.high)

    @property
    def is_validated(self) -> bool:
        """Say whether both distances are at most δ (8.1)."""
        return self.d_low <= self.tolerance and self.d_high <= self.tolerance

    @property
    def is_settled(self) -> bool:
        """Say whether more trials could not turn the verdict.

        The simulated ends have settled to a fifth of δ (8.2), or lie clearer of δ than they are uncertain: one beyond
        it, or both within. A simulation of a fixed number of trials doesn't say, so it counts as unsettled.
        """
        stability = self.simulated.stability
        if stability is None:
            return False
        ends = ((self.d_low, stability.twice_s_low), (self.d_high, stability.twice_s_high))
        if all(spread <= FINER * self.tolerance for _, spread in ends):
            return True
        if not self.is_validated:
            return any(distance - spread > self.tolerance for distance, spread in ends)
        return all(distance + spread <= self.tolerance for distance, spread in ends)

    @property
    def share(self) -> float:
        """Give (simulated half-width − U)/U: by how much of U first order is off, below zero where it is wide."""
        return self.simulated.interval.half_width / self.first.U - 1

    @property
    def is_far_off(self) -> bool:
        """Say whether that is more than 5 %, so that the simulated interval is to be used."""
        return abs(self.share) > LARGEST_DIFFERENCE


def compare(first: FirstOrder, simulated: Simulation, *, digits: int = 2) -> Comparison:
    """Hold ``first`` against ``simulated`` at ``digits`` significant digits of u (8.1).

    Raises ProbabilitiesDiffer, BadDigits (also for a first order without spread).
    """
    covered = simulated.interval.wanted.probability
    if not math.isclose(covered, first.probability, rel_tol=1e-9):
        raise ProbabilitiesDiffer(expected=first.probability, found=covered)
    return Comparison(first, simulated, digits, numerical_tolerance(first.u, digits))
