"""The likelihood of censored outcomes, its maximum and its profile: published data, brute force, numerical slopes."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal, localcontext

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import optimize, stats

from labsys.metrology.intervals.checks import Check, Checks, Renewal, grouped
from labsys.metrology.intervals.fitting import TargetTooLow, fit, interval_at
from labsys.metrology.intervals.goodness import goodness
from labsys.metrology.intervals.likelihood import Likelihood, log_of_rest
from labsys.metrology.intervals.maximising import NotConverged, edges_at, maximise, slope_at
from labsys.metrology.intervals.models import MODELS, ModelName
from labsys.metrology.intervals.profiling import parameter_limits, profile, profile_limits
from labsys.metrology.intervals.records import DataCount

Array = NDArray[np.float64]
EXPONENTIAL, WEIBULL = MODELS[ModelName.EXPONENTIAL], MODELS[ModelName.WEIBULL]
SMALL = grouped([4, 8, 12, 16], [6, 7, 8, 5], [6, 6, 5, 2])
AGES = (6.0, 11.5, 12.0, 24.0)


def from_bands(edges: list[float], counts: list[int]) -> Checks:
    """Take how many ended between neighbouring edges as checks of all that were left at each edge."""
    left, each = sum(counts), []
    for start, age, out in zip(edges, edges[1:], counts, strict=False):
        left -= out
        each.append(Check(start, age, left, out))
    n, x = sum(one.n for one in each), sum(one.in_tolerance for one in each)
    return Checks(tuple(each), DataCount(n, x, {}), Renewal.IF_FAILED)


# Times between alpha particles of americium-241, 200 of them in seven bands, in 1/5000 s: Meeker and Escobar,
# Statistical Methods for Reliability Data (1998), tables 7.1 and 7.2, from memory; data of Berkson (1966).
PARTICLES = from_bands([0, 100, 300, 500, 700, 1000, 2000, 4000], [41, 44, 24, 32, 29, 21, 9])


def test_the_published_mean_of_banded_times_and_its_limits_are_found() -> None:
    found = fit(PARTICLES, EXPONENTIAL)
    assert 1 / found.parameters[0] == pytest.approx(572.3, abs=0.05)
    ends = parameter_limits(found, profile_limits(PARTICLES, found, 0.9))
    assert ends is not None
    assert (1 / ends[1], 1 / ends[0]) == pytest.approx((498, 662), abs=0.5)


def test_checks_of_one_item_add_up_to_the_band_it_went_out_in() -> None:
    """Renew if failed: ln[R(a) − R(b)], written out with a statistics library's law."""
    edges, counts = [0, 5, 9, 20, 31], [3, 4, 8, 2]
    law = stats.weibull_min(1.6, scale=14)
    bands = np.diff(law.cdf(edges))
    found = Likelihood(from_bands(list(map(float, edges)), counts), WEIBULL)(np.array([[1 / 14], [1.6]]))
    assert found[0] == pytest.approx(float(np.dot(counts, np.log(bands))), rel=1e-12)


def test_many_sets_of_parameters_at_once_are_each_by_itself() -> None:
    places = np.exp(np.random.default_rng(1).normal(-1, 1, (2, 50)))
    likelihood = Likelihood(SMALL, WEIBULL)
    together = likelihood(places)
    assert together.shape == (50,)
    for index in range(50):
        assert likelihood(places[:, index : index + 1])[0] == together[index]


@pytest.mark.parametrize("name", ModelName)
def test_the_slope_vanishes_at_the_fit_and_agrees_with_a_library(name: ModelName) -> None:
    model = MODELS[name]
    likelihood = Likelihood(SMALL, model)
    found = fit(SMALL, model)
    place = np.log(found.parameters)

    def function(at: Array) -> Array:
        return likelihood(np.exp(at))

    elsewhere = place + 0.3
    library = optimize.approx_fprime(elsewhere, lambda at: float(function(at[:, np.newaxis])[0]), 1e-7)
    assert slope_at(function, elsewhere) == pytest.approx(library, rel=1e-3, abs=1e-4)
    assert slope_at(function, place) == pytest.approx(np.zeros(place.size), abs=1e-4)


def test_the_slope_of_the_exponential_is_the_written_out_one() -> None:
    """d ln L/da = Σ out·t·e^(−at)/(1 − e^(−at)) − Σ in·t; central differences in ln a, so times a."""
    a = 0.03
    by_hand = math.fsum(
        one.out * one.age * math.exp(-a * one.age) / -math.expm1(-a * one.age) - one.in_tolerance * one.age
        for one in SMALL.each
    )
    likelihood = Likelihood(SMALL, EXPONENTIAL)
    found = slope_at(lambda at: likelihood(np.exp(at)), np.array([math.log(a)]))
    assert found[0] == pytest.approx(a * by_hand, rel=1e-7)


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(ModelName),
    st.lists(st.tuples(st.integers(0, 4), st.integers(0, 3)), min_size=4, max_size=4),
)
def test_no_place_of_a_fine_grid_is_more_likely_than_the_fit(
    name: ModelName, counted: list[tuple[int, int]]
) -> None:
    """Brute force on small data, also such that leads a model to its edge.

    Laws of three parameters are held to rates that fall with age: on rising ones a drift may have a second maximum, a
    cliff between two ages too narrow for the starts, which describes nothing.
    """
    if len(MODELS[name].parameters) == 3:
        counted = sorted(counted, key=lambda one: one[0] / max(1, sum(one)), reverse=True)
    rows = [(age, x + out, x) for age, (x, out) in zip(AGES, counted, strict=True) if x + out]
    ins, all_of = sum(x for _, _, x in rows), sum(n for _, n, _ in rows)
    if ins in (0, all_of):
        return
    checks = grouped([age for age, _, _ in rows], [n for _, n, _ in rows], [x for _, _, x in rows])
    model = MODELS[name]
    axis = np.linspace(-7, 5, {1: 4001, 2: 161, 3: 41}[len(model.parameters)])
    grid = np.stack([one.ravel() for one in np.meshgrid(*[axis] * len(model.parameters))])
    units = np.array([12.0**power for power in model.powers])[:, np.newaxis]
    highest = float(Likelihood(checks, model)(np.exp(grid) * units).max())
    assert fit(checks, model).log_likelihood >= highest - 1e-5


@pytest.mark.parametrize(
    "name", [ModelName.WEIBULL, ModelName.MORTALITY_DRIFT, ModelName.LOGNORMAL, ModelName.WARRANTY]
)
def test_the_profile_is_the_highest_of_a_grid_with_the_interval_held(name: ModelName) -> None:
    """The second way: every pair of parameters on a fine grid whose own R meets the target at that age."""
    model, months, target = MODELS[name], 7.0, 0.9
    likelihood = Likelihood(SMALL, model)
    firsts = np.exp(np.linspace(-11, 3, 3001))

    def miss(second: float, first: float) -> float:
        at = np.array([first, math.exp(second)])[:, np.newaxis, np.newaxis]
        with np.errstate(over="ignore"):
            return float(model.log_reliability(np.array([months]), at)[0, 0]) - math.log(target)

    heights = []
    for first in firsts:
        if miss(-20, first) * miss(9, first) < 0:
            second = math.exp(optimize.brentq(miss, -20, 9, args=(first,)))
            heights.append(float(likelihood(np.array([[first], [second]]))[0]))
    assert profile(SMALL, model, target)(months) == pytest.approx(max(heights), abs=2e-3)


@pytest.mark.parametrize("name", ModelName)
@given(st.floats(0.3, 60), st.floats(0.55, 0.995), st.lists(st.floats(-4, 4), min_size=2, max_size=2))
@settings(max_examples=10, deadline=None)
def test_a_pinned_law_meets_its_target(
    name: ModelName, months: float, target: float, free: list[float]
) -> None:
    model = MODELS[name]
    numbers = np.array(free[: len(model.parameters) - 1]).reshape(-1, 1)
    parameters = model.pinned(months, target, numbers)
    assert (parameters > 0).all()
    found = model.log_reliability(np.array([months]), parameters[:, :, np.newaxis])
    assert math.exp(found[0, 0]) == pytest.approx(target, rel=1e-9)


def test_the_deviance_is_the_likelihood_ratio_to_each_groups_own_rate() -> None:
    found = fit(SMALL, EXPONENTIAL)
    saturated = math.fsum(
        stats.binom.logpmf(one.in_tolerance, one.n, one.in_tolerance / one.n)
        - stats.binom.logpmf(one.in_tolerance, one.n, found.reliability(one.age))
        for one in SMALL.each
    )
    judged = goodness(SMALL, found)
    assert judged.deviance == pytest.approx(2 * saturated, rel=1e-9)
    assert judged.freedom == 3
    assert judged.p == pytest.approx(stats.chi2.sf(judged.deviance, 3), rel=1e-9)


def test_groups_too_small_are_joined_and_without_freedom_nothing_is_judged() -> None:
    single = grouped([6, 7, 8, 9, 10, 11], [1] * 6, [1, 1, 0, 1, 0, 1])
    judged = goodness(single, fit(single, EXPONENTIAL))
    assert (judged.groups, judged.freedom, judged.p, judged.is_adequate) == (1, 0, None, True)


def test_a_law_that_starts_below_the_target_has_no_interval() -> None:
    bad = grouped([1, 12, 24], [40, 40, 40], [22, 20, 17])
    found = fit(bad, MODELS[ModelName.WARRANTY])
    assert interval_at(found, 0.95, 24) == 0
    limits = profile_limits(bad, found, 0.95)
    assert (limits.months, limits.low, limits.high) == (0, 0, math.inf)


def test_a_law_that_levels_out_above_the_target_has_an_endless_one() -> None:
    stable = grouped([2, 6, 24, 60, 200], [100] * 5, [97, 94, 90, 90, 90])
    found = fit(stable, MODELS[ModelName.RESTRICTED_WALK])
    assert interval_at(found, 0.6, 200) == math.inf
    assert interval_at(found, 0.95, 200) < 24


@pytest.mark.parametrize("target", [0.5, 0.3, 1.0, math.nan])
def test_a_target_lies_above_one_half(target: float) -> None:
    with pytest.raises(TargetTooLow):
        interval_at(fit(SMALL, EXPONENTIAL), target, 16)


def test_a_search_that_does_not_arrive_says_where_it_still_rises() -> None:
    # A slope that changes faster than any step can follow.
    def jagged(at: Array) -> Array:
        found: Array = np.sin(1e6 * at[0]) - np.abs(at[1]) / 7
        return found

    with pytest.raises(NotConverged, match="still rising by"):
        maximise(jagged, 2, names=("a", "b"))


@pytest.mark.parametrize(
    "hill",
    [
        lambda at: -((at[0] - 1.3) ** 2),
        lambda at: -np.cosh(at[0] - 1.3),
        lambda at: -(np.abs(at[0] - 1.3) ** 3),
    ],
)
def test_a_hill_is_climbed(hill: Callable[[Array], Array]) -> None:
    found = maximise(hill, 1)
    assert found.place[0] == pytest.approx(1.3, abs=2e-3)


def test_the_edge_is_told_from_a_maximum() -> None:
    def slope(at: Array) -> Array:
        found: Array = at[0] - at[1] ** 2
        return found

    assert edges_at(slope, maximise(slope, 2).place) == (True, False)


@settings(max_examples=40, deadline=None)
@given(st.floats(-700, -1e-280) | st.floats(-2, -0.1))
def test_the_logarithm_of_the_rest_keeps_its_digits(log_p: float) -> None:
    with localcontext(prec=700):
        exact = float((1 - Decimal(log_p).exp()).ln())
    assert log_of_rest(np.array([log_p]))[0] == pytest.approx(exact, rel=1e-12)
