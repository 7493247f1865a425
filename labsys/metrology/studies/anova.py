"""The lines of an analysis of variance, and the one-way analysis.

Lives here: sums of squares by source, F tests, groups of any size. May not live here: designs with several factors
(crossed.py, nested.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from labsys.metrology.studies.cube import NoSpreadSeen, enough, row, spread_within

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Line:
    """One source of variation: sum of squares about the means (in the readings' unit squared), degrees of freedom.

    Where it was tested, ``F`` is its mean square over that of the line named in ``tested_against`` and ``p`` the
    probability of a larger one where there is no effect; otherwise None. F is infinite over a mean square of zero.
    """

    source: str
    ss: float
    df: int
    tested_against: str | None = None
    F: float | None = None
    p: float | None = None

    @property
    def ms(self) -> float:
        """Give the mean square."""
        return self.ss / self.df

    def against(self, other: Line) -> Line:
        """Test this line against ``other``: F = MS/MS with the two degrees of freedom."""
        if other.ms == 0:
            F = math.inf if self.ms > 0 else math.nan
            return replace(
                self, tested_against=other.source, F=F if self.ms else None, p=0.0 if self.ms else None
            )
        from scipy.special import fdtrc

        F = self.ms / other.ms
        return replace(self, tested_against=other.source, F=F, p=float(fdtrc(self.df, other.df, F)))


@dataclass(frozen=True, slots=True)
class OneWay:
    """Groups compared: lines *between*, *within* and *total*; share of the squares explained; residual deviation.

    ``between_variance`` is the component of the groups, (MS_between − MS_within)/n₀, zero where the estimate
    ``between_estimate`` is negative. ``group_size`` is n₀ = (N − Σn²/N)/(k − 1), the size where all are equal.
    """

    between: Line
    within: Line
    total: Line
    r_squared: float
    residual_sd: float
    group_size: float
    between_estimate: float
    between_variance: float
    group_means: tuple[float, ...]


def one_way(groups: Sequence[Sequence[float]]) -> OneWay:
    """Compare the means of two or more groups of readings, which may differ in size (one-way analysis of variance).

    The sums are taken about the means, so that readings such as 196.3052 lose no digits. Formulas: NIST/SEMATECH
    e-Handbook 7.4.3; n₀ for groups of unequal size is the usual one, from memory. Raises StudyTooSmall for fewer than
    two groups, an empty one or no group with two readings, NoSpreadSeen where all readings within the groups are alike,
    NotANumber and ReadingOutOfReach.
    """
    enough(len(groups), 2, "groups")
    rows = [row(group, least=1, what="readings in each group") for group in groups]
    count = sum(len(one) for one in rows)
    enough(count - len(rows), 1, "readings more than groups")
    if not any(spread_within(one) for one in rows):
        raise NoSpreadSeen(where="within a group")
    centre = math.fsum(value for one in rows for value in one) / count
    means = [_mean_about(one, centre) for one in rows]
    between = Line(
        "between",
        math.fsum(len(one) * mean**2 for one, mean in zip(rows, means, strict=True)),
        len(rows) - 1,
    )
    residuals = ((value - centre) - mean for one, mean in zip(rows, means, strict=True) for value in one)
    within = Line("within", math.fsum(one**2 for one in residuals), count - len(rows))
    size = (count - sum(len(one) ** 2 for one in rows) / count) / (len(rows) - 1)
    return _told(between, within, size, tuple(centre + mean for mean in means))


def _mean_about(values: NDArray[np.float64], centre: float) -> float:
    return math.fsum(value - centre for value in values) / len(values)


def _told(between: Line, within: Line, size: float, means: tuple[float, ...]) -> OneWay:
    total = Line("total", between.ss + within.ss, between.df + within.df)
    estimate = (between.ms - within.ms) / size
    return OneWay(
        between=between.against(within),
        within=within,
        total=total,
        r_squared=between.ss / total.ss,
        residual_sd=math.sqrt(within.ms),
        group_size=size,
        between_estimate=estimate,
        between_variance=max(0.0, estimate),
        group_means=means,
    )
