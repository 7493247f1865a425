"""Conformance of many errors at once against one by one and against scipy's distributions."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from labsys.metrology.conformance import Spread, conformance_probability
from labsys.metrology.conformance_arrays import conformance_probabilities
from labsys.metrology.coverage import Shape
from labsys.metrology.exact import NotANumber
from labsys.metrology.limits import LimitMissing, Limits

LIMITS = Limits(Decimal("-0.004"), Decimal("0.003"))
ERRORS = np.round(np.random.default_rng(3).uniform(-0.006, 0.006, (20, 10)), 9)


@pytest.mark.parametrize(
    "spread",
    [
        Spread(0.001), Spread(0.001, nu=4), Spread(0.001, Shape.RECTANGULAR), Spread(0.0),
        Spread(0.001, Shape.TRAPEZOIDAL, beta=0.3), Spread(0.001, Shape.TRAPEZOIDAL, beta=1.0),
    ],
)  # fmt: skip
@pytest.mark.parametrize("limits", [LIMITS, Limits(None, LIMITS.upper), Limits(LIMITS.lower, None)])
def test_many_are_the_same_as_one_by_one(spread: Spread, limits: Limits) -> None:
    found = conformance_probabilities(ERRORS, limits, spread)
    assert found.shape == ERRORS.shape
    for place, error in np.ndenumerate(ERRORS):
        one = conformance_probability(Decimal(f"{error:.9f}"), limits, spread)
        assert found[place] == pytest.approx(one, abs=1e-12)


def test_against_scipy() -> None:
    found = conformance_probabilities(ERRORS, LIMITS, Spread(0.002, Shape.TRAPEZOIDAL, beta=0.25))
    half = 0.002 * math.sqrt(6 / (1 + 0.25**2))
    shape = stats.trapezoid(0.375, 0.625, loc=-half, scale=2 * half)
    expected = shape.cdf(0.003 - ERRORS) - shape.cdf(-0.004 - ERRORS)
    assert found == pytest.approx(expected, abs=1e-12)


def test_on_a_limit_an_exact_value_conforms() -> None:
    found = conformance_probabilities(np.array([0.003, -0.004, 0.003000001]), LIMITS, Spread(0.0))
    assert found.tolist() == [1, 1, 0]


def test_what_has_no_probability_is_refused() -> None:
    with pytest.raises(NotANumber):
        conformance_probabilities(np.array([0.0, math.nan]), LIMITS, Spread(0.001))
    with pytest.raises(LimitMissing):
        conformance_probabilities(ERRORS, Limits(None, None), Spread(0.001))
    assert conformance_probabilities(np.array([]), LIMITS, Spread(0.001)).size == 0
