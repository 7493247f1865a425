"""Global and specific risks: published figures, the bivariate normal distribution, simulation, refusals by name."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.special import owens_t

from labsys.metrology.conformance import Spread, conformance_probability
from labsys.metrology.limits import LimitMissing, Limits
from labsys.metrology.risk import (
    BadRiskInput,
    GlobalRisks,
    Prior,
    ReliabilityMeans,
    ReliabilityOutOfReach,
    global_risks,
    guard_for_global_risk,
    managed_guard,
    posterior,
    ratio_risks,
    root_sum_guard,
    specific_risk,
    worst_over_ratio,
    worst_over_reliability,
)
from tests.labsys.metrology.published import case, entry, recomputed

OBSERVED, TRUE = ReliabilityMeans.OBSERVED, ReliabilityMeans.TRUE
TEN_UM = Limits(Decimal("-0.010"), Decimal("0.010"))


@pytest.mark.parametrize(
    ("means", "name"),
    [(OBSERVED, "95 % = OBSERVED in-tolerance rate"), (TRUE, "95 % = TRUE (prior) in-tolerance rate")],
)
def test_false_accept_at_four_to_one_by_what_95_percent_means(means: ReliabilityMeans, name: str) -> None:
    # Trap 7: 0.77 % where 95 % are found in tolerance, 0.86 % where 95 % are.
    found = ratio_risks(4, 0.95, means).risks
    assert found.consumer == pytest.approx(recomputed("pfa-tur4", f"PFA, {name}"), rel=1e-10)
    producer = {OBSERVED: "PFR, 95 % observed", TRUE: "PFR, 95 % true"}[means]
    assert found.producer == pytest.approx(recomputed("pfa-tur4", producer), rel=1e-10)
    print_ = entry("pfa-tur4", producer)
    assert found.producer == pytest.approx(float(print_["printed"]), abs=print_["tol"])


def test_observed_and_true_reliability_are_what_they_say() -> None:
    observed = ratio_risks(4, 0.95, OBSERVED).risks
    assert observed.accepted == pytest.approx(0.95, abs=1e-14)
    assert observed.conforming > 0.95
    true = ratio_risks(4, 0.95, TRUE).risks
    assert true.conforming == pytest.approx(0.95, abs=1e-14)
    assert true.accepted < 0.95


@pytest.mark.parametrize("ratio", [1, 1.5, 2, 3, 5, 10])
def test_risks_by_ratio(ratio: float) -> None:
    found = ratio_risks(ratio, 0.95, TRUE).risks
    assert found.consumer == pytest.approx(
        recomputed("pfa-tur4", f"PFA TUR {ratio}, 95 % true, k=2"), rel=1e-10
    )
    assert found.producer == pytest.approx(
        recomputed("pfa-tur4", f"PFR TUR {ratio}, 95 % true, k=2"), rel=1e-10
    )


def test_risks_with_another_coverage_factor() -> None:
    # The recomputed figures stand on 1.959964, not on 1.96 as their names say: that would be 0.00870999.
    found = ratio_risks(4, 0.95, TRUE, k=1.959964).risks
    assert found.consumer == pytest.approx(recomputed("pfa-tur4", "PFA, 95 % true, U with k=1.96"), rel=1e-10)
    assert found.producer == pytest.approx(recomputed("pfa-tur4", "PFR, 95 % true, U with k=1.96"), rel=1e-10)


@pytest.mark.parametrize("reliability", case("pfa-1")["expected"]["table"])
def test_table_of_false_accepts_over_reliability_and_ratio(reliability: str) -> None:
    for ratio, printed in case("pfa-1")["expected"]["table"][reliability].items():
        found = ratio_risks(float(ratio), float(reliability), OBSERVED).risks.consumer
        assert found == pytest.approx(printed, rel=6e-4 if printed > 1e-6 else 0.02), ratio


def test_largest_false_accepts() -> None:
    expected = case("pfa-1")["expected"]
    for ratio, row in expected["max_over_EOPR"].items():
        found = worst_over_reliability(float(ratio), OBSERVED)
        assert found.consumer == pytest.approx(row["max_PFA"], rel=5e-4)
        assert found.reliability == pytest.approx(row["at_EOPR"], abs=0.006)
    for reliability, row in expected["max_over_TUR"].items():
        found = worst_over_ratio(float(reliability), OBSERVED)
        assert found.consumer == pytest.approx(row["max_PFA"], rel=5e-4)
        assert found.ratio == pytest.approx(row["at_TUR"], abs=0.02)


def test_the_bounds_of_two_percent() -> None:
    worst = {
        "max over EOPR of PFA at TUR 4.6": worst_over_reliability(4.6, OBSERVED),
        "max over TUR of PFA at observed EOPR 0.89": worst_over_ratio(0.89, OBSERVED),
        "max PFA with A = L - M U at TUR 2": worst_over_reliability(
            2, OBSERVED, acceptance=1 - managed_guard(2) / 2
        ),
    }
    for quantity, found in worst.items():
        # Recomputed on a grid, so a true maximum lies a little above.
        assert found.consumer == pytest.approx(recomputed("pfa-tur4", quantity), rel=3e-5)
        assert found.consumer < float(entry("pfa-tur4", quantity)["printed"])
    assert worst_over_reliability(4, OBSERVED).consumer > 0.02
    quantity = "managed guard band multiplier M at TUR 2: 1.04-exp(0.38 ln TUR - 0.54)"
    assert managed_guard(2) == pytest.approx(recomputed("pfa-tur4", quantity), rel=1e-12)
    assert managed_guard(6) == 0


@pytest.mark.parametrize("means", list(ReliabilityMeans))
def test_nothing_near_the_worst_is_worse(means: ReliabilityMeans) -> None:
    worst = worst_over_reliability(3, means)
    grid = [ratio_risks(3, reliability, means).risks.consumer for reliability in np.linspace(0.05, 0.99, 189)]
    assert max(grid) <= worst.consumer <= max(grid) * 1.001
    worst = worst_over_ratio(0.9, means)
    least = 0.83 if means is OBSERVED else 0.05
    grid = [ratio_risks(ratio, 0.9, means).risks.consumer for ratio in np.geomspace(least, 50, 300)]
    assert max(grid) <= worst.consumer <= max(grid) * 1.001


def test_root_sum_of_squares_guard() -> None:
    limit = root_sum_guard(4)
    assert limit == pytest.approx(
        recomputed("pfa-tur4", "RSS guard band, TUR 4: A = L sqrt(1-1/TUR^2)"), rel=1e-12
    )
    found = ratio_risks(4, 0.95, TRUE, acceptance=limit).risks
    # The acceptance limit is kept to nine decimals, as every limit is.
    assert found.consumer == pytest.approx(
        recomputed("pfa-tur4", "PFA with RSS guard band, TUR 4, 95 % true"), rel=1e-8
    )
    assert found.producer == pytest.approx(
        recomputed("pfa-tur4", "PFR with RSS guard band, TUR 4, 95 % true"), rel=1e-8
    )


def by_bivariate_normal(limits: Limits, zone: Limits, prior: Prior, u: float) -> tuple[float, float]:
    """Work out both risks from the joint distribution function of true and measured value."""
    joint = stats.multivariate_normal(
        [prior.mean_mm, prior.mean_mm],
        [[prior.u_mm**2, prior.u_mm**2], [prior.u_mm**2, prior.u_mm**2 + u**2]],
        abseps=1e-12, releps=1e-12, maxpts=10**6,
    )  # fmt: skip
    far = 60 * math.hypot(prior.u_mm, u)
    true = [float(limits.lower or -far), float(limits.upper or far)]
    seen = [float(zone.lower or -far), float(zone.upper or far)]
    both = joint.cdf([true[1], seen[1]], lower_limit=[true[0], seen[0]])
    accepted = np.diff(stats.norm(prior.mean_mm, math.hypot(prior.u_mm, u)).cdf(seen))[0]
    conforming = np.diff(stats.norm(prior.mean_mm, prior.u_mm).cdf(true))[0]
    return float(accepted - both), float(conforming - both)


@settings(max_examples=60, deadline=None)
@given(
    mean=st.floats(-6, 6), spread=st.floats(0.3, 12), u=st.floats(0.05, 8),
    guards=st.tuples(st.floats(-4, 4), st.floats(-4, 4)), sides=st.sampled_from(["both", "lower", "upper"]),
)  # fmt: skip
def test_risks_agree_with_the_bivariate_normal_distribution(
    mean: float, spread: float, u: float, guards: tuple[float, float], sides: str
) -> None:
    lower = None if sides == "upper" else Decimal(-5)
    upper = None if sides == "lower" else Decimal(5)
    zone = Limits(
        None if lower is None else lower + Decimal(guards[0]),
        None if upper is None else upper - Decimal(guards[1]),
    )
    prior = Prior(mean, spread)
    found = global_risks(Limits(lower, upper), zone, prior, u)
    consumer, producer = by_bivariate_normal(Limits(lower, upper), zone, prior, u)
    assert found.consumer == pytest.approx(consumer, abs=2e-9)
    assert found.producer == pytest.approx(producer, abs=2e-9)


@pytest.mark.parametrize("u", [1e-6, 1e-3, 0.1, 1.0, 30.0, 1e4])
def test_any_quality_of_measurement_by_owens_function(u: float) -> None:
    # P(true > T, measured ≤ T) of a centred population with one limit, in closed form (D. B. Owen, 1956).
    # With k = ρh one of his two terms is zero and the other has the argument √(1 − ρ²)/ρ = u.
    h = 1.3
    k = h / math.hypot(1.0, u)
    apart = (stats.norm.cdf(h) - stats.norm.cdf(k)) / 2
    limit = Limits(None, Decimal("1.3"))
    found = global_risks(limit, limit, Prior(0.0, 1.0), u)
    assert found.consumer == pytest.approx(owens_t(k, u) - apart, rel=1e-9)
    assert found.producer == pytest.approx(owens_t(k, u) + apart, rel=1e-9)


def test_risks_agree_with_a_simulation() -> None:
    rng = np.random.default_rng(7)
    true = rng.normal(0.002, 0.006, 2_000_000)
    seen = true + rng.normal(0, 0.002, true.size)
    zone = Limits(Decimal("-0.008"), Decimal("0.009"))
    found = global_risks(TEN_UM, zone, Prior(0.002, 0.006), 0.002)
    conforms, accepted = np.abs(true) <= 0.010, (seen >= -0.008) & (seen <= 0.009)
    for probability, counted in (
        (found.consumer, accepted & ~conforms), (found.producer, conforms & ~accepted),
        (found.conforming, conforms), (found.accepted, accepted),
    ):  # fmt: skip
        assert counted.mean() == pytest.approx(probability, abs=5 * math.sqrt(probability / true.size))
    among = (accepted & ~conforms).sum() / accepted.sum()
    assert found.false_among_accepted == pytest.approx(among, rel=0.05)


def test_an_exact_measurement_errs_only_where_the_limits_differ() -> None:
    prior = Prior(0.0, 0.006)
    same = global_risks(TEN_UM, TEN_UM, prior, 0.0)
    assert (same.consumer, same.producer) == (0.0, 0.0)
    wider = global_risks(TEN_UM, Limits(Decimal("-0.012"), Decimal("0.012")), prior, 0.0)
    expected = 2 * (stats.norm.cdf(2.0) - stats.norm.cdf(5 / 3))
    assert wider.consumer == pytest.approx(expected, rel=1e-12)
    assert wider.producer == 0


def test_tiny_risks_keep_their_digits() -> None:
    # Nearly exact: the true value lies beyond T and is measured inside A, nine standard uncertainties away.
    zone = Limits(None, Decimal("0.0082"))
    found = global_risks(Limits(None, Decimal("0.010")), zone, Prior(0.0, 0.005), 0.0002).consumer
    nodes = np.linspace(0.010, 0.0125, 400_001)
    values = stats.norm.pdf(nodes, 0, 0.005) * stats.norm.cdf((0.0082 - nodes) / 0.0002)
    assert 0 < found < 1e-18
    assert found == pytest.approx(float(np.trapezoid(values, nodes)), rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.floats(-3, 3), st.floats(0.5, 8), st.floats(0.1, 4), st.floats(1e-5, 0.2), st.booleans())
def test_a_guard_holds_the_wanted_risk_and_is_the_smallest(
    mean: float, spread: float, u: float, wanted: float, one_sided: bool
) -> None:
    limits = Limits(None if one_sided else Decimal(-5), Decimal(5))
    prior = Prior(mean, spread)
    found = guard_for_global_risk(limits, prior, u, consumer=wanted)
    assert found.risks.consumer <= wanted
    if found.guard_mm == 0:
        assert global_risks(limits, limits, prior, u).consumer <= wanted
        return
    assert found.risks.consumer == pytest.approx(wanted, rel=1e-5)
    assert found.risks.acceptance.upper == 5 - found.guard_mm
    plain = global_risks(limits, limits, prior, u)
    assert found.risks.producer > plain.producer


def test_a_guard_for_half_a_percent_at_four_to_one() -> None:
    spread = ratio_risks(4, 0.95, TRUE).risks.prior.u_mm
    found = guard_for_global_risk(
        Limits(Decimal(-1), Decimal(1)), Prior(0.0, spread), 0.125, consumer=0.0062681427677
    )
    # The guard of the root sum of squares is known to leave this risk.
    assert float(found.guard_mm) == pytest.approx(1 - root_sum_guard(4), abs=1e-8)


def test_the_posterior_is_the_product_of_both_densities() -> None:
    prior = Prior(0.001, 0.003)
    mean, u = posterior(Decimal("0.006"), 0.002, prior)
    grid = np.linspace(-0.02, 0.03, 20_001)
    density = stats.norm.pdf(grid, 0.001, 0.003) * stats.norm.pdf(0.006, grid, 0.002)
    density /= density.sum()
    assert float(mean) == pytest.approx(float((grid * density).sum()), rel=1e-9)
    assert u == pytest.approx(math.sqrt(float(((grid - float(mean)) ** 2 * density).sum())), rel=1e-9)


def test_specific_risks_average_to_the_global_ones() -> None:
    prior, zone = Prior(0.001, 0.005), Limits(Decimal("-0.009"), Decimal("0.0085"))
    whole = global_risks(TEN_UM, zone, prior, 0.002)
    seen_u = math.hypot(0.005, 0.002)
    consumer = producer = 0.0
    values = np.linspace(-0.045, 0.045, 3001)
    for value, density in zip(values, stats.norm.pdf(values, 0.001, seen_u), strict=True):
        found = specific_risk(Decimal(float(value)), TEN_UM, zone, Spread(0.002), prior=prior)
        share = float(density) * float(values[1] - values[0])
        consumer += share * found.risk if found.is_accepted else 0.0
        producer += 0.0 if found.is_accepted else share * found.risk
    assert consumer == pytest.approx(whole.consumer, rel=0.01)
    assert producer == pytest.approx(whole.producer, rel=0.01)


def test_the_risk_of_one_item_without_a_prior() -> None:
    accepted = specific_risk(Decimal("0.009"), TEN_UM, TEN_UM, Spread(0.001))
    assert (accepted.is_accepted, accepted.whose) == (True, "consumer")
    assert accepted.risk == pytest.approx(stats.norm.sf(1) + stats.norm.sf(19), rel=1e-12)
    refused = specific_risk(Decimal("0.011"), TEN_UM, TEN_UM, Spread(0.001))
    assert (refused.is_accepted, refused.whose) == (False, "producer")
    assert refused.risk == pytest.approx(stats.norm.sf(1), rel=1e-9)
    assert refused.risk == conformance_probability(Decimal("0.011"), TEN_UM, Spread(0.001))


def test_the_guarded_rejection_of_jcgm_106() -> None:
    # Speed limit 100 km/h, relative uncertainty 2 %: from which reading on is it exceeded with 99.9 %?
    quantity = "rejection limit (y-100)/(0.02 y)=z0.999"
    speed = recomputed("jcgm106-specific", quantity)
    limit = Limits(None, Decimal(100))
    found = specific_risk(Decimal(speed), limit, limit, Spread(0.02 * speed))
    assert found.risk == pytest.approx(0.001, rel=1e-9)
    assert math.ceil(speed) == int(entry("jcgm106-specific", quantity)["printed"])


def assert_refused(**changes: float) -> None:
    given = {"mean": 0.0, "spread": 1.0, "u": 0.1, **changes}
    with pytest.raises(BadRiskInput):
        global_risks(TEN_UM, TEN_UM, Prior(given["mean"], given["spread"]), given["u"])


def test_what_makes_no_model_is_refused_by_name() -> None:
    for bad in (0.0, -1.0, math.nan, math.inf, 1e-320):
        assert_refused(spread=bad)
    for bad in (-0.1, math.nan, math.inf):
        assert_refused(u=bad)
    assert_refused(mean=math.nan)
    prior, none = Prior(0.0, 1.0), Limits(None, None)
    for limits, zone in ((none, TEN_UM), (TEN_UM, none)):
        with pytest.raises(LimitMissing):
            global_risks(limits, zone, prior, 0.1)
    for wanted in (0.0, 1.0, -0.1, math.nan):
        with pytest.raises(BadRiskInput):
            guard_for_global_risk(TEN_UM, prior, 0.1, consumer=wanted)
    with pytest.raises(BadRiskInput):
        posterior(Decimal(0), -1.0, prior)


def test_ratios_and_reliabilities_that_cannot_be() -> None:
    with pytest.raises(ReliabilityOutOfReach) as refusal:
        ratio_risks(0.5, 0.95, OBSERVED)
    assert refusal.value.data["most"] == pytest.approx(0.6827, abs=1e-4)
    for ratio in (0.0, -4.0, math.nan, math.inf):
        with pytest.raises(BadRiskInput):
            ratio_risks(ratio, 0.95, TRUE)
        with pytest.raises(BadRiskInput):
            managed_guard(ratio)
    for reliability in (0.0, 1.0, math.nan):
        with pytest.raises(BadRiskInput):
            ratio_risks(4, reliability, TRUE)
        with pytest.raises(BadRiskInput):
            worst_over_ratio(reliability, OBSERVED)
    with pytest.raises(BadRiskInput):
        ratio_risks(4, 0.95, TRUE, acceptance=-0.1)
    with pytest.raises(BadRiskInput):
        root_sum_guard(0.9)


def test_nothing_accepted_has_no_share() -> None:
    zone = Limits(Decimal(1), Decimal(1))
    found: GlobalRisks = global_risks(TEN_UM, zone, Prior(0.0, 0.001), 0.0001)
    assert (found.accepted, found.false_among_accepted) == (0.0, None)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "limits", [TEN_UM, Limits(None, Decimal(1)), Limits(Decimal("1e-9"), Decimal("1e9"))]
)
@pytest.mark.parametrize("mean", [0.0, 5.0, -1e6, 1e150])
@pytest.mark.parametrize("spread", [1e-300, 1e-12, 1.0, 1e6, 1e160])
def test_whatever_the_sizes_a_risk_is_a_probability_and_a_guard_holds_it(
    limits: Limits, mean: float, spread: float
) -> None:
    for u in (0.0, 1e-300, 1e-9, 0.1, 1e5, 1e200):
        try:
            found = global_risks(limits, limits, Prior(mean, spread), u)
            guarded = guard_for_global_risk(limits, Prior(mean, spread), u, consumer=0.01)
        except BadRiskInput:
            # Ordinary sizes always have an answer.
            assert abs(mean) > 1e100 or not 1e-13 < spread < 1e100 or u > 1e100
            continue
        for probability in (found.consumer, found.producer, found.conforming, found.accepted):
            assert 0 <= probability <= 1 + 1e-12
        assert guarded.risks.consumer <= 0.01


def test_values_that_no_length_has_are_refused_by_name() -> None:
    far = Limits(Decimal("-0.010"), Decimal("1e300"))
    with pytest.raises(BadRiskInput):
        guard_for_global_risk(far, Prior(1e300, 0.002), 0.001, consumer=0.001)
    with pytest.raises(BadRiskInput):
        ratio_risks(4, 1e-30, OBSERVED)
    assert posterior(Decimal(1), 1.0, Prior(0.0, 1e300)) == (Decimal(1), 1.0)
