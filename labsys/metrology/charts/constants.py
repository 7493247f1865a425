"""The constants of control charts, from their definitions instead of a table of rounded ones.

Lives here: factors of ranges of two and of standard deviations. May not live here: limits.
"""

from __future__ import annotations

import math
from typing import Final

D2: Final = 2 / math.sqrt(math.pi)
"""Mean range of two normal values in standard deviations, 1.12838 (d₂ of ISO 7870-2, tables print 1.128)."""
D3: Final = math.sqrt(2 - 4 / math.pi)
"""Standard deviation of that range, 0.85250 (d₃ of ISO 7870-2, tables print 0.853)."""
RANGE_LIMIT: Final = 1 + 3 * D3 / D2
"""Upper three-sigma limit of a moving range in mean moving ranges, 3.26653 (D₄ of ISO 7870-2: 3.267)."""


def c4(count: int) -> float:
    """Give the mean of s from ``count`` ≥ 2 normal values in standard deviations (ISO 7870-2).

    c₄ = √(2/(n − 1))·Γ(n/2)/Γ((n − 1)/2).
    """
    return math.sqrt(2 / (count - 1)) * math.exp(math.lgamma(count / 2) - math.lgamma((count - 1) / 2))


def moving_range_freedom(count: int) -> float:
    """Give the effective degrees of freedom of the spread from the mean moving range of ``count`` ≥ 2 values.

    ν = 1/(2·V) with V its relative variance (JCGM 100:2008, E.4.3). Neighbouring ranges share a value, so that V =
    ((n − 1)·(π/2 − 1) + 2·(n − 2)·(√3/2 + π/12 − 1))/(n − 1)², from the folded bivariate normal with ρ = −1/2.
    """
    own, shared = math.pi / 2 - 1, math.sqrt(3) / 2 + math.pi / 12 - 1
    variance = ((count - 1) * own + 2 * (count - 2) * shared) / (count - 1) ** 2
    return 1 / (2 * variance)
