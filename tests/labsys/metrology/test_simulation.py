"""Propagation of distributions: draws, trials, intervals, comparison."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from labsys.metrology.coverage import student_factor
from labsys.metrology.simulation import (
    Between,
    Correlation,
    FirstOrder,
    Form,
    Input,
    IntervalKind,
    MeasurementModel,
    Normal,
    Student,
    Wanted,
    compare,
    interval_of,
    numerical_tolerance,
    simulate,
    simulate_adaptively,
)
from tests.labsys.metrology.densities import PAIRS, rng, summed, total

SHORTEST, SYMMETRIC = IntervalKind.SHORTEST, IntervalKind.SYMMETRIC


@pytest.mark.parametrize("name", PAIRS)
def test_draws_follow_the_density_of_a_statistics_library(name: str) -> None:
    density, judge = PAIRS[name]
    # Kolmogorov and Smirnov, 100 000 draws: a wrong β, scale or doubt gives p below 1e-10.
    assert stats.kstest(density.draw(rng(8), 100_000), judge.cdf).pvalue > 0.01
    assert density.mean == pytest.approx(judge.mean())
    assert density.standard_deviation == pytest.approx(judge.std(), rel=1e-6)


def test_the_library_would_notice_a_scale_taken_for_a_standard_deviation() -> None:
    wrong = Student(-2.0, 0.3 * math.sqrt(3 / 5), 5.0).draw(rng(8), 100_000)
    assert stats.kstest(wrong, PAIRS["student"][1].cdf).pvalue < 1e-10


def test_limits_in_doubt_of_any_form_have_the_variance_they_say() -> None:
    for form, beta in ((Form.TRIANGULAR, None), (Form.TRAPEZOIDAL, 0.4), (Form.ARCSINE, None)):
        density = Between(0.0, 2.0, form, beta, doubt=0.5)
        drawn = density.draw(rng(3), 400_000)
        # The s.d. of a standard deviation is at most u/√(2M) here (no form has heavier tails than a normal one).
        assert drawn.std() == pytest.approx(density.standard_deviation, rel=4 / math.sqrt(2 * 400_000))
        assert drawn.mean() == pytest.approx(1.0, abs=5 * density.standard_deviation / math.sqrt(400_000))


def test_symmetric_indices_by_hand() -> None:
    # JCGM 101:2008, 7.7.2: M = 20, p = 0.9: q = 18, M − q even, r = 1: from the 1st to the 19th.
    assert _ends(20, 0.9, SYMMETRIC) == (1, 19)
    # M = 21: pM = 18.9, q = 19, r = 1. M = 25, p = 0.9: pM = 22.5, q = 23, r = 1. M = 30: q = 27, r = (3 + 1)/2 = 2.
    assert [_ends(m, 0.9, SYMMETRIC) for m in (21, 25, 30)] == [(1, 20), (1, 24), (2, 29)]
    # 0.95·1e6 and 0.07·100 aren't whole in binary and are meant so.
    assert _ends(1_000_000, 0.95, SYMMETRIC) == (25_000, 975_000)
    assert _ends(100, 0.07, SYMMETRIC) == (47, 54)


def _ends(count: int, probability: float, kind: IntervalKind) -> tuple[float, float]:
    values = rng(count).permutation(np.arange(1.0, count + 1))
    found = interval_of(values, Wanted(probability, kind))
    return found.low, found.high


@given(
    st.lists(st.integers(-1000, 1000), min_size=4, max_size=60),
    st.sampled_from([0.1, 0.25, 0.5, 0.6, 0.75]),
    st.sampled_from(list(IntervalKind)),
)
def test_intervals_agree_with_sorting_and_trying_every_one(
    drawn: list[int], probability: float, kind: IntervalKind
) -> None:
    ordered, count = sorted(map(float, drawn)), len(drawn)
    product = probability * count
    q = int(product) if product == int(product) else math.floor(product + 0.5)
    if not 1 <= q < count:
        return
    found = interval_of(np.array(drawn, dtype=float), Wanted(probability, kind))
    if kind is SYMMETRIC:
        rest = count - q
        r = rest // 2 if rest % 2 == 0 else (rest + 1) // 2
    else:
        r = min(range(1, count - q + 1), key=lambda one: ordered[one + q - 1] - ordered[one - 1])
    assert (found.low, found.high) == (ordered[r - 1], ordered[r + q - 1])


def test_the_shortest_interval_of_a_lopsided_result_is_shorter_and_lies_elsewhere() -> None:
    model = MeasurementModel(lambda drawn: drawn["x"] ** 2, (Input("x", Normal(0.0, 1.0)),))
    both = [simulate(model, rng=rng(), wanted=Wanted(0.95, kind)).interval for kind in (SYMMETRIC, SHORTEST)]
    # χ² with one degree of freedom: 2.5 % and 97.5 %; its density falls, so the shortest begins at zero.
    assert both[0].low == pytest.approx(stats.chi2.ppf(0.025, 1), abs=1e-4)
    assert both[0].high == pytest.approx(stats.chi2.ppf(0.975, 1), abs=0.03)
    assert both[1].low == pytest.approx(0.0, abs=1e-6)
    assert both[1].high == pytest.approx(stats.chi2.ppf(0.95, 1), abs=0.03)


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_sums_of_rectangles_have_the_ends_of_the_closed_form(count: int) -> None:
    # Irwin and Hall: F(x) = Σ (−1)^k C(n, k) (x − k)₊ⁿ / n!, solved by the library's root finder.
    from scipy.optimize import brentq

    def cumulative(x: float) -> float:
        terms = (
            (-1) ** k * math.comb(count, k) * max(x - k, 0.0) ** count / math.factorial(count)
            for k in range(count + 1)
        )
        return math.fsum(terms)

    high = brentq(lambda x: cumulative(x) - 0.975, 0, count)
    found = simulate(summed(*[Between(0.0, 1.0)] * count), rng=rng(5), wanted=Wanted(0.95))
    # An end's standard deviation is √(q(1 − q)/M)/density; four of them.
    density = (cumulative(high + 1e-4) - cumulative(high - 1e-4)) / 2e-4
    assert found.interval.high == pytest.approx(high, abs=4 * math.sqrt(0.025 * 0.975 / 1e6) / density)
    assert found.u == pytest.approx(math.sqrt(count / 12), rel=4 / math.sqrt(2e6))


@settings(max_examples=8, deadline=None)
@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(0.1, 3)), min_size=1, max_size=5), st.floats(0.6, 0.99))
def test_a_linear_normal_model_gives_what_first_order_gives(
    parts: list[tuple[float, float]], probability: float
) -> None:
    inputs = [Normal(0.3, u) for _, u in parts]

    def function(drawn: Any) -> Any:
        return sum(c * drawn[f"x{place}"] for place, (c, _) in enumerate(parts))

    model = MeasurementModel(function, summed(*inputs).inputs)
    u = math.sqrt(math.fsum((c * u) ** 2 for c, u in parts))
    if u < 1e-3:
        return
    y, k = 0.3 * sum(c for c, _ in parts), student_factor(probability, math.inf)
    found = simulate(model, rng=rng(6), trials=200_000, wanted=Wanted(probability))
    end_s = math.sqrt((1 - probability) / 2 * (1 + probability) / 2 / 2e5) / stats.norm.pdf(k)
    assert found.y == pytest.approx(y, abs=5 * u / math.sqrt(2e5))
    assert found.u == pytest.approx(u, rel=5 / math.sqrt(4e5))
    assert found.interval.low == pytest.approx(y - k * u, abs=5 * end_s * u)
    assert found.interval.high == pytest.approx(y + k * u, abs=5 * end_s * u)


def test_correlated_inputs_come_out_as_correlated_as_they_were_asked_for() -> None:
    drawn: dict[str, Any] = {}

    def keep(block: Any) -> Any:
        drawn.update({name: one.copy() for name, one in block.items()})
        return block["a"] + block["b"] + block["c"]

    inputs = (
        Input("a", Normal(1, 2)),
        Input("alone", Between(0, 1)),
        Input("b", Normal(0, 3)),
        Input("c", Normal(0, 1)),
    )
    ties = (Correlation("a", "b", 0.6), Correlation("b", "c", -0.4))
    found = simulate(MeasurementModel(keep, inputs, ties), rng=rng(2), trials=200_000, block=200_000)
    matrix = np.corrcoef([drawn[name] for name in ("a", "b", "c", "alone")])
    expected = np.array([[1, 0.6, 0, 0], [0.6, 1, -0.4, 0], [0, -0.4, 1, 0], [0, 0, 0, 1]])
    assert np.abs(matrix - expected).max() < 4 / math.sqrt(200_000)
    # u² = Σu² + 2Σ r·u·u (JCGM 100:2008, 5.2.2)
    assert found.u == pytest.approx(math.sqrt(4 + 9 + 1 + 2 * 0.6 * 6 - 2 * 0.4 * 3), rel=0.008)


@pytest.mark.parametrize(("r", "u"), [(1.0, 5.0), (-1.0, 1.0)])
def test_full_correlation_adds_or_cancels(r: float, u: float) -> None:
    inputs = (Input("a", Normal(0, 2)), Input("b", Normal(0, 3)))
    found = simulate(MeasurementModel(total, inputs, (Correlation("a", "b", r),)), rng=rng(), trials=50_000)
    assert found.u == pytest.approx(u, rel=4 / math.sqrt(1e5))


def test_the_same_generator_gives_the_same_and_the_blocks_are_said() -> None:
    model = summed(Normal(0, 1), Between(-1, 1))
    first, again = (simulate(model, rng=rng(9), trials=60_001) for _ in range(2))
    assert first == again
    assert (first.trials, first.blocks, first.block, first.stability) == (60_001, 3, 25_000, None)
    assert first.source == "JCGM 101:2008, 7.2 to 7.7"
    assert simulate(model, rng=rng(10), trials=60_001) != first
    # One input has one stream, so that the blocks can't matter to it.
    alone = [simulate(summed(Normal(0, 1)), rng=rng(9), trials=60_001, block=b) for b in (7_000, 60_001)]
    assert alone[0].interval == alone[1].interval


def test_trials_go_on_until_the_digits_have_settled() -> None:
    found = simulate_adaptively(
        summed(*[Between(-math.sqrt(3), math.sqrt(3))] * 4), rng=rng(4), wanted=Wanted(0.95)
    )
    stability = found.stability
    assert stability is not None and stability.is_stable and stability.unsettled == ()
    assert stability.tolerance == 0.05  # u = 2.0 with two digits is 20·10⁻¹ (JCGM 101:2008, 7.9.2.1)
    assert found.trials == stability.batches * 10_000 == found.blocks * found.block
    assert found.source == "JCGM 101:2008, 7.9.4"
    finer = simulate_adaptively(
        summed(Normal(0, 1)), rng=rng(4), wanted=Wanted(0.95), tolerance_share=0.2, digits=2
    )
    # Four standard deviations of an end, 2·√(0.025·0.975/M)/φ(1.96), are what δ/5 = 0.01 has to hold.
    least = (2 * math.sqrt(0.025 * 0.975) / stats.norm.pdf(1.96) / 0.01) ** 2
    assert least / 2 < finer.trials < 2 * least


def test_the_adaptive_result_is_that_of_all_trials_together() -> None:
    values = np.concatenate([rng(4).standard_normal(30_000)])
    found = simulate_adaptively(summed(Normal(0, 1)), rng=rng(4), digits=5, most_trials=30_000)
    assert found.trials == 30_000 and found.stability is not None
    assert found.y == pytest.approx(values.mean(), rel=1e-9)
    assert found.u == pytest.approx(values.std(ddof=1), rel=1e-12)
    assert found.interval == interval_of(values, Wanted())
    # What was not reached is said and not hidden.
    assert not found.stability.is_stable and found.stability.unsettled == ("y", "u", "low", "high")
    y = [one.mean() for one in np.split(rng(4).standard_normal(30_000), 3)]
    assert found.stability.twice_s_y == pytest.approx(2 * stats.sem(y), rel=1e-9)


@pytest.mark.parametrize(
    ("seed", "kind", "share"), [(4, SYMMETRIC, 0.2), (11, SHORTEST, 0.4), (12, SYMMETRIC, 1)]
)
def test_it_ends_with_the_first_batch_at_which_all_four_have_settled(
    seed: int, kind: IntervalKind, share: float
) -> None:
    wanted = Wanted(0.95, kind)
    found = simulate_adaptively(summed(Normal(0, 1)), rng=rng(seed), wanted=wanted, tolerance_share=share)
    # JCGM 101:2008, 7.9.4 b to k, done over again with sorting and a library's standard error; u = 1.0: δ = 0.05.
    draws, said, twice = rng(seed), [], np.full(4, np.inf)
    while (twice > 0.05 * share).any():
        values = np.sort(draws.standard_normal(10_000))
        spans = values[9_500:] - values[:500]
        r = spans.argmin() if kind is SHORTEST else 249
        said.append([values.mean(), values.std(ddof=1), values[r], values[r + 9_500]])
        if len(said) > 1:
            twice = 2 * stats.sem(said, axis=0)
    assert found.trials == 10_000 * len(said)
    assert found.stability is not None
    own = found.stability
    assert (own.twice_s_y, own.twice_s_u, own.twice_s_low, own.twice_s_high) == pytest.approx(tuple(twice))


@pytest.mark.parametrize(
    ("u", "digits", "delta"),
    [
        (0.35, 2, 0.005),
        (0.35, 1, 0.05),  # 0.4
        (0.0000354, 2, 5e-7),  # 7.9.2.1: 0.35 for one V, and its smaller kin (from memory)
        (9.96, 2, 0.5),  # rounds to 10
        (9.94, 2, 0.05),
        (2.0, 1, 0.5),
        (36.0, 2, 0.5),
        (1e-300, 2, 5e-302),
    ],
)
def test_numerical_tolerance(u: float, digits: int, delta: float) -> None:
    assert numerical_tolerance(u, digits) == pytest.approx(delta, rel=1e-12)


def test_the_comparison_with_first_order() -> None:
    model = summed(*[Between(-math.sqrt(3), math.sqrt(3))] * 4)
    simulated = simulate_adaptively(model, rng=rng(7), wanted=Wanted(0.95), tolerance_share=0.2)
    # s1-9.2 B: first order 3.92, exact 2√3·(2 − (3/5)^¼) = 3.8794 (JCGM 101:2008, 9.2.3 and E.2): 0.0405 apart.
    found = compare(FirstOrder(0.0, 2.0, 2 * student_factor(0.95, math.inf), 0.95), simulated)
    exact = 2 * math.sqrt(3) * (2 - 0.6**0.25)
    assert found.tolerance == 0.05 and found.is_validated and found.is_settled
    assert found.d_low == pytest.approx(3.9199 - exact, abs=0.01)
    assert found.d_high == pytest.approx(3.9199 - exact, abs=0.01)
    assert found.share == pytest.approx(exact / 3.9199 - 1, abs=0.003) and not found.is_far_off
    closer = compare(found.first, simulated, digits=3)
    assert closer.tolerance == 0.005 and not closer.is_validated and closer.is_settled
    wide = compare(FirstOrder(0.0, 2.0, 4.2, 0.95), simulated)
    assert not wide.is_validated and wide.is_far_off and wide.share < -0.05


def test_a_verdict_that_more_trials_could_turn_is_called_unsettled() -> None:
    rough = simulate_adaptively(summed(Normal(0, 1)), rng=rng(7), wanted=Wanted(0.95), most_trials=20_000)
    assert rough.stability is not None and rough.stability.twice_s_low > 0.01
    k = student_factor(0.95, math.inf)
    near = compare(FirstOrder(0.0, 1.0, k + 0.05, 0.95), rough)
    assert not near.is_settled
    assert compare(FirstOrder(0.0, 1.0, k + 0.5, 0.95), rough).is_settled
    fixed = simulate(summed(Normal(0, 1)), rng=rng(7), wanted=Wanted(0.95))
    assert not compare(FirstOrder(0.0, 1.0, k, 0.95), fixed).is_settled
