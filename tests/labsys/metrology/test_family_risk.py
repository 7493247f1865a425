"""A family's history and the risks it leads to: simulated families, too little history, disagreeing history."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from labsys.metrology.acceptance import EmptyAcceptanceZone, acceptance_limits
from labsys.metrology.exact import NotANumber
from labsys.metrology.limits import Limits
from labsys.metrology.risk import LEAST_ERRORS, BadRiskInput, Prior, family_risks, global_risks
from labsys.metrology.rules import Rule, RuleKind
from labsys.metrology.views import View

LIMITS = Limits(Decimal("-0.020"), Decimal("0.020"))
GUARDED = Rule(RuleKind.GUARDED, View.TEST_VALUE)


def errors(count: int, *, mean: float = 0.002, spread: float = 0.008, u: float = 0.002) -> list[Decimal]:
    """Make as-found errors of a family as a laboratory would see them."""
    rng = np.random.default_rng(11)
    true = rng.normal(mean, spread, count)
    return [Decimal(f"{value:.9f}") for value in true + rng.normal(0, u, count)]


def test_the_population_is_found_again_behind_the_measurement() -> None:
    found = family_risks(errors(200_000, u=0.006), limits=LIMITS, rule=GUARDED, U_mm=0.012, u_mm=0.006)
    assert found.prior is not None and found.risks is not None
    assert found.prior.mean_mm == pytest.approx(0.002, abs=1e-4)
    assert found.prior.u_mm == pytest.approx(0.008, rel=0.01)
    expected = global_risks(LIMITS, Limits(Decimal("-0.008"), Decimal("0.008")), Prior(0.002, 0.008), 0.006)
    assert found.risks.consumer == pytest.approx(expected.consumer, rel=0.05)
    assert found.risks.producer == pytest.approx(expected.producer, rel=0.02)
    assert found.expected_outside == pytest.approx(found.found_outside, rel=0.05)


def test_the_rule_sets_what_is_accepted() -> None:
    history = errors(60)
    for kind in (RuleKind.SIMPLE, RuleKind.GUARDED, RuleKind.PROVE):
        rule = Rule(kind, View.TEST_VALUE)
        found = family_risks(history, limits=LIMITS, rule=rule, U_mm=0.004, u_mm=0.002)
        assert found.risks is not None
        assert found.risks.acceptance == acceptance_limits(LIMITS, rule, 0.004, 0.002)
        assert found.needs == ""


def test_the_interval_of_the_spread_is_that_of_chi_squared() -> None:
    history = errors(40)
    found = family_risks(history, limits=LIMITS, rule=GUARDED, U_mm=0.004, u_mm=0.002)
    s = float(np.std([float(one) for one in history], ddof=1))
    assert found.narrow is not None and found.wide is not None
    for risks, probability in ((found.narrow, 0.975), (found.wide, 0.025)):
        seen = s * math.sqrt(39 / stats.chi2.ppf(probability, 39))
        assert risks.prior.u_mm == pytest.approx(math.sqrt(seen**2 - 0.002**2), rel=1e-9)
    assert found.narrow.prior.u_mm < s < found.wide.prior.u_mm


def test_too_few_errors_say_how_many_are_wanted() -> None:
    found = family_risks(errors(13), limits=LIMITS, rule=GUARDED, U_mm=0.004, u_mm=0.002)
    assert (found.count, found.needed, found.risks) == (13, LEAST_ERRORS, None)
    assert "at least 20" in found.needs and "found 13" in found.needs and "7 more" in found.needs
    enough = family_risks(errors(20), limits=LIMITS, rule=GUARDED, U_mm=0.004, u_mm=0.002)
    assert enough.risks is not None
    # So many errors leave a spread known to a sixth.
    assert 1 / math.sqrt(2 * (LEAST_ERRORS - 1)) == pytest.approx(1 / 6, abs=0.01)


def test_a_spread_that_is_the_measurements_own_is_no_prior() -> None:
    found = family_risks(errors(50, spread=0.0001), limits=LIMITS, rule=GUARDED, U_mm=0.008, u_mm=0.004)
    assert found.risks is None and "no more than the measurement itself" in found.needs
    alike = family_risks([Decimal("0.001")] * 30, limits=LIMITS, rule=GUARDED, U_mm=0.0, u_mm=0.0)
    assert alike.risks is None and "s = 0 mm" in alike.needs
    barely = family_risks(errors(20, spread=0.002), limits=LIMITS, rule=GUARDED, U_mm=0.004, u_mm=0.0019)
    assert barely.risks is not None and barely.wide is not None and barely.narrow is None


def test_a_history_that_is_not_normal_is_seen_by_its_count() -> None:
    history = [*errors(95, mean=0, spread=0.002), *[Decimal("0.05")] * 5]
    found = family_risks(history, limits=LIMITS, rule=GUARDED, U_mm=0.004, u_mm=0.002)
    assert found.found_outside == 5
    assert found.expected_outside is not None and found.expected_outside > 8


def test_what_makes_no_history_is_refused_by_name() -> None:
    with pytest.raises(NotANumber):
        family_risks([Decimal("NaN")] * 30, limits=LIMITS, rule=GUARDED, U_mm=0.004, u_mm=0.002)
    with pytest.raises(EmptyAcceptanceZone):
        family_risks(errors(30), limits=LIMITS, rule=GUARDED, U_mm=0.05, u_mm=0.025)
    with pytest.raises(BadRiskInput):
        family_risks(errors(30), limits=LIMITS, rule=GUARDED, U_mm=-0.004, u_mm=-0.002)
