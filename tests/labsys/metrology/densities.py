"""Densities beside the same ones of a statistics library, the independent judge of the draws; small models of them."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy import stats

from labsys.metrology.simulation import Between, Density, Form, Input, MeasurementModel, Normal, Student


class CurvilinearTrapezoid(stats.rv_continuous):  # type: ignore[misc]
    """Rectangular with limits in doubt: its density by JCGM 101:2008, 6.4.3.3, written out from memory.

    g(x) = (1/4d)·ln((w + d)/(x − m)) between w − d and w + d from the middle m, (1/4d)·ln((w + d)/(w − d)) within.
    """

    def __init__(self, low: float, high: float, doubt: float) -> None:
        self.w, self.m, self.d = (high - low) / 2, (high + low) / 2, doubt
        super().__init__(a=low - doubt, b=high + doubt)

    def _cdf(self, x: Any, *args: Any) -> Any:
        # Integrated by hand: F = ½ + sign·(1/4d)·(r·ln((w + d)/max(r, w − d)) + max(0, r − (w − d))), r = |x − m|.
        r, top, flat = np.abs(x - self.m), self.w + self.d, self.w - self.d
        area = r * np.log(top / np.maximum(r, flat)) + np.maximum(0.0, r - flat)
        return 0.5 + np.sign(x - self.m) * area / (4 * self.d)


PAIRS: dict[str, tuple[Density, Any]] = {
    "normal": (Normal(3.0, 0.5), stats.norm(3.0, 0.5)),
    "student": (Student(-2.0, 0.3, 5.0), stats.t(5.0, -2.0, 0.3)),
    "student without doubt": (Student(1.0, 0.3, float("inf")), stats.norm(1.0, 0.3)),
    "rectangular": (Between(-1.0, 4.0), stats.uniform(-1.0, 5.0)),
    "triangular": (Between(2.0, 6.0, Form.TRIANGULAR), stats.triang(0.5, 2.0, 4.0)),
    "trapezoidal": (
        Between(2.0, 6.0, Form.TRAPEZOIDAL, beta=0.4),
        stats.trapezoid(0.3, 0.7, 2.0, 4.0),  # the slopes take (1 − β)/2 of the base on either side
    ),
    "arcsine": (Between(-0.5, 0.5, Form.ARCSINE), stats.arcsine(-0.5, 1.0)),
    "curvilinear": (Between(1.0, 5.0, doubt=0.7), CurvilinearTrapezoid(1.0, 5.0, 0.7)),
}


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


def total(drawn: Any) -> Any:
    return sum(drawn.values())


def summed(*densities: Density) -> MeasurementModel:
    return MeasurementModel(total, tuple(Input(f"x{place}", one) for place, one in enumerate(densities)))
