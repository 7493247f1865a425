"""The exponentially weighted moving average: small lasting shifts seen early.

Lives here: the average and its limits. May not live here: single values (baseline.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.metrology.charts.baseline import ON_THE_LIMIT, Baseline
from labsys.metrology.fits.series import SeriesUnusable, series


@dataclass(frozen=True, slots=True)
class Averaged:
    """The average after one more value, half the width of its limits at that moment, and whether it's outside."""

    average: float
    half_width: float
    is_out: bool


def averages(
    values: Sequence[float], baseline: Baseline, *, weight: float = 0.2, multiple: float = 3.0
) -> tuple[Averaged, ...]:
    """Average ``values`` from the baseline's centre on: z_i = λ·x_i + (1 − λ)·z_{i−1}, z₀ the centre.

    Limits are exact from the first value on: ± L·s·√(λ/(2 − λ)·(1 − (1 − λ)^{2i})) (ISO 7870-6; e-Handbook, 6.3.2.4).
    ``weight`` is λ, above 0 and up to 1; ``multiple`` L. Raises SeriesUnusable.
    """
    found, average = [], baseline.centre
    for index, value in enumerate(series(values, "values").tolist(), 1):
        average += weight * (value - average)
        half = half_width(index, baseline.s, weight=weight, multiple=multiple)
        found.append(Averaged(average, half, abs(average - baseline.centre) > half * (1 + ON_THE_LIMIT)))
    return tuple(found)


def half_width(index: int, s: float, *, weight: float, multiple: float = 3.0) -> float:
    """Give half the width of the limits after the ``index``-th value (from 1); raises SeriesUnusable."""
    if not (0 < weight <= 1 and 0 < multiple < math.inf):
        raise SeriesUnusable(
            expected="a weight above 0 and up to 1, limits above 0", found=f"{weight}, {multiple}"
        )
    settled = 1.0 if weight == 1 else -math.expm1(2 * index * math.log1p(-weight))
    return multiple * s * math.sqrt(weight / (2 - weight) * settled)


def settled_half_width(s: float, *, weight: float, multiple: float = 3.0) -> float:
    """Give half the width that the limits tend to, L·s·√(λ/(2 − λ)); raises SeriesUnusable."""
    return half_width(1, s, weight=weight, multiple=multiple) / math.sqrt(weight * (2 - weight))
