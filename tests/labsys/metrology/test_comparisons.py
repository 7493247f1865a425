"""Comparisons between laboratories: scores, the weighted mean, consistency, the largest consistent subset."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from labsys.metrology.comparisons.consensus import (
    SubsetsTooMany,
    largest_consistent_subset,
    weighted_mean,
)
from labsys.metrology.comparisons.scores import (
    Performance,
    ScoreUndefined,
    normalized_error,
    zeta_score,
)
from labsys.metrology.fits.series import SeriesUnusable


def test_scores_of_one_result() -> None:
    # 3-4-5: √(0.3² + 0.4²) = 0.5
    en = normalized_error(10.4, 0.3, 10.0, 0.4)
    assert en.value == pytest.approx(0.8)
    assert en.performance is Performance.SATISFACTORY
    zeta = zeta_score(10.4, 0.15, 10.0, 0.2)
    assert zeta.value == pytest.approx(1.6)
    assert zeta.performance is Performance.SATISFACTORY
    # With k = 2 throughout, ζ is twice E_n.
    assert zeta.value == pytest.approx(2 * en.value)


@pytest.mark.parametrize(
    ("score", "en", "zeta"),
    [
        (1.0, Performance.SATISFACTORY, Performance.SATISFACTORY),
        (-1.25, Performance.UNSATISFACTORY, Performance.SATISFACTORY),
        (2.0, Performance.UNSATISFACTORY, Performance.SATISFACTORY),
        (-2.5, Performance.UNSATISFACTORY, Performance.QUESTIONABLE),
        (3.0, Performance.UNSATISFACTORY, Performance.UNSATISFACTORY),
    ],
)
def test_bounds_of_the_scores(score: float, en: Performance, zeta: Performance) -> None:
    assert normalized_error(score, 1.0, 0.0, 0.0).performance is en
    assert zeta_score(score, 0.0, 0.0, 1.0).performance is zeta


@pytest.mark.parametrize(
    ("value", "u", "reference", "u_reference"),
    [(1, 0, 1, 0), (math.nan, 1, 1, 1), (1, -1, 1, 1), (1, math.inf, 1, 1), (math.inf, 1, math.inf, 1)],
)
def test_scores_that_are_none(value: float, u: float, reference: float, u_reference: float) -> None:
    for score in (normalized_error, zeta_score):
        with pytest.raises(ScoreUndefined):
            score(value, u, reference, u_reference)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 9))
def test_the_weighted_mean_against_least_squares_and_a_statistics_library(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    u = rng.uniform(0.5, 3, count)
    x = 25_000_000 + u * rng.standard_normal(count)
    found = weighted_mean(x.tolist(), u.tolist())
    (mean,), ((variance,),) = np.polyfit(np.arange(count), x - 25_000_000, 0, w=1 / u, cov="unscaled")
    assert found.value - 25_000_000 == pytest.approx(mean, abs=1e-7)
    assert found.u == pytest.approx(math.sqrt(variance), rel=1e-10)
    chi_squared = float(np.sum(((x - 25_000_000 - mean) / u) ** 2))
    assert found.chi_squared == pytest.approx(chi_squared, rel=1e-6)
    assert found.p_value == pytest.approx(stats.chi2.sf(chi_squared, count - 1), rel=1e-6)
    assert found.nu == count - 1


def test_differences_know_what_they_are_part_of_by_simulation() -> None:
    rng = np.random.default_rng(77)
    u, included = [1.0, 2.0, 3.0], [0, 1]
    runs = [
        [
            one.value
            for one in weighted_mean(
                (np.array(u) * rng.standard_normal(3)).tolist(), u, included=included
            ).differences
        ]
        for _ in range(4000)
    ]
    said = weighted_mean([0, 0, 0], u, included=included).differences
    assert [one.is_included for one in said] == [True, True, False]
    # standard error of a standard deviation from 4000 runs: 1.1 %
    assert np.std(runs, axis=0) == pytest.approx([one.u for one in said], rel=0.05)
    assert 2 * said[0].u == said[0].U


def test_the_check_refuses_as_often_as_its_significance() -> None:
    rng = np.random.default_rng(78)
    u = [1.0, 0.5, 2.0, 1.0]
    refused = [
        not weighted_mean((np.array(u) * rng.standard_normal(4)).tolist(), u).is_consistent
        for _ in range(3000)
    ]
    assert np.mean(refused) == pytest.approx(0.05, abs=0.012)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.integers(3, 8))
def test_the_largest_consistent_subset_by_brute_force(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    u = rng.uniform(0.5, 2, count)
    x = 3 * rng.standard_normal(count)
    best: tuple[int, float, tuple[int, ...]] | None = None
    for size in range(2, count + 1):
        for places in combinations(range(count), size):
            kept, w = x[list(places)], 1 / u[list(places)] ** 2
            chi_squared = float(np.sum(w * (kept - np.average(kept, weights=w)) ** 2))
            if stats.chi2.sf(chi_squared, size - 1) >= 0.05 and (
                best is None or (-size, chi_squared) < best[:2]
            ):
                best = (-size, chi_squared, places)
    found = largest_consistent_subset(x.tolist(), u.tolist())
    assert found.is_consistent == (best is not None)
    if best is not None:
        assert found.included == best[2]


def test_a_far_outlier_is_left_out_whatever_its_distance() -> None:
    found = largest_consistent_subset([1.0, 1.1, 1e12, 0.9], [0.1, 0.1, 0.1, 0.1])
    assert found.included == (0, 1, 3)
    assert found.value == pytest.approx(1.0)
    assert found.differences[2].u == pytest.approx(math.hypot(0.1, found.u))


def test_consistent_results_are_all_kept() -> None:
    found = largest_consistent_subset([1.0, 1.1, 0.9], [0.1, 0.1, 0.1])
    assert found == weighted_mean([1.0, 1.1, 0.9], [0.1, 0.1, 0.1])


def test_results_without_a_common_value() -> None:
    found = largest_consistent_subset([0.0, 10.0, 30.0], [0.1, 0.1, 0.1])
    assert (found.included, found.is_consistent) == ((0, 1), False)
    many = [float(10 * i**2) for i in range(30)]
    with pytest.raises(SubsetsTooMany):
        largest_consistent_subset(many, [0.1] * 30)


@pytest.mark.parametrize(
    ("values", "u", "significance"),
    [
        ([], [], 0.05),
        ([1.0], [0.1], 0.05),
        ([1.0, 2.0], [0.1], 0.05),
        ([1.0, 2.0], [0.1, 0.0], 0.05),
        ([1.0, math.nan], [0.1, 0.1], 0.05),
        ([1.0, 2.0], [0.1, 0.1], 0.0),
    ],
)
def test_rounds_that_are_none(values: list[float], u: list[float], significance: float) -> None:
    for average in (weighted_mean, largest_consistent_subset):
        with pytest.raises(SeriesUnusable):
            average(values, u, significance=significance)


def test_places_must_be_those_of_results() -> None:
    for included in ([0], [0, 5], [0, 0]):
        with pytest.raises(SeriesUnusable):
            weighted_mean([1.0, 2.0, 3.0], [0.1, 0.1, 0.1], included=included)
