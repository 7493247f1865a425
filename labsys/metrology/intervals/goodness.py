"""Whether a fitted model describes the outcomes: deviance against groups of like age.

Lives here: groups, deviance and its p. May not live here: fits, the choice between models.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.metrology.intervals.checks import Check, Checks
from labsys.metrology.intervals.fitting import Fit
from labsys.metrology.intervals.likelihood import Likelihood

LEAST_IN_GROUP = 5
LEAST_P = 0.05
"""A model with a smaller p is not adequate."""


@dataclass(frozen=True, slots=True)
class Goodness:
    """Deviance G² of ``groups`` with their degrees of freedom and p; p is None without any freedom."""

    deviance: float
    groups: int
    freedom: int
    p: float | None

    @property
    def is_adequate(self) -> bool:
        """Say that nothing speaks against the model: also where nothing could."""
        return self.p is None or self.p >= LEAST_P


def goodness(checks: Checks, found: Fit) -> Goodness:
    """Give G² = 2·Σ [x·ln(x/E) + (n − x)·ln((n − x)/(n − E))] with E the expected number in, df = groups − k.

    Neighbouring ages are joined until a group has five records, since G² of single records follows no χ².
    """
    import numpy as np
    from scipy.special import chdtrc

    parameters = np.array(found.parameters)[:, np.newaxis]
    chances = np.exp(Likelihood(checks, found.model).log_chance(parameters)[0])
    total, groups = 0.0, 0
    for members in _groups(checks.each):
        n = sum(checks.each[i].n for i in members)
        x = sum(checks.each[i].in_tolerance for i in members)
        expected = math.fsum(checks.each[i].n * float(chances[i]) for i in members)
        total += _term(x, expected) + _term(n - x, n - expected)
        groups += 1
    freedom = groups - len(found.parameters)
    deviance = max(0.0, 2 * total)
    return Goodness(deviance, groups, freedom, float(chdtrc(freedom, deviance)) if freedom > 0 else None)


def _groups(each: Sequence[Check]) -> list[list[int]]:
    """Join checks in the order of age until each group has enough records; a rest too small joins the last group."""
    groups: list[list[int]] = [[]]
    for index in range(len(each)):
        if sum(each[i].n for i in groups[-1]) >= LEAST_IN_GROUP and each[index].age > each[index - 1].age:
            groups.append([])
        groups[-1].append(index)
    if len(groups) > 1 and sum(each[i].n for i in groups[-1]) < LEAST_IN_GROUP:
        groups[-2:] = [groups[-2] + groups[-1]]
    return groups


def _term(observed: float, expected: float) -> float:
    if observed == 0:
        return 0.0
    return observed * math.log(observed / expected) if expected > 0 else math.inf
