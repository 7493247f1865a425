"""Risks where nothing is known but a ratio and a reliability: the model behind rules such as “4:1” and “2 %”.

Lives here: limits of ±1, a centred population, U = 1/ratio. May not live here: populations in millimetres.

The ratio compares the width between the limits with the width of the uncertainty interval 2U (ASME B89.7.3.1, N:1).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from statistics import NormalDist
from typing import Final

from labsys.errors import LabError
from labsys.metrology.limits import Limits
from labsys.metrology.risk.population import BadRiskInput, GlobalRisks, Prior, global_risks

UNIT: Final = Limits(Decimal(-1), Decimal(1))


class ReliabilityMeans(StrEnum):
    """Which share a reliability states: of items truly in tolerance, or of items that were found so."""

    TRUE = "true"
    OBSERVED = "observed"


class ReliabilityOutOfReach(LabError, ValueError):
    """More items are said to be found in tolerance than so uncertain a measurement could find."""

    code = "reliability-out-of-reach"
    sentence = (
        "Expected an observed reliability below {most:.4f} at a ratio of {ratio:g}, found {found:g}. "
        "The measurement alone scatters more than that; state the true reliability, or a better ratio."
    )


@dataclass(frozen=True, slots=True)
class RatioRisks:
    """Risks at a ratio; limits are ±1, everything else is in their unit, ± ``acceptance`` bounds what is accepted."""

    ratio: float
    reliability: float
    means: ReliabilityMeans
    acceptance: float
    risks: GlobalRisks


@dataclass(frozen=True, slots=True)
class Worst:
    """The largest global consumer's risk, and where it lies."""

    consumer: float
    ratio: float
    reliability: float


def ratio_risks(
    ratio: float,
    reliability: float,
    means: ReliabilityMeans,
    *,
    k: float = 2.0,
    acceptance: float = 1.0,
) -> RatioRisks:
    """Give both global risks for U = 1/``ratio``, u = U/``k``, accepting within ±``acceptance`` (in limits).

    The population's spread follows from the reliability R with z = Φ⁻¹((1 + R)/2): 1/z where R is the true share,
    √(1/z² − u²) where it is the observed one. Raises BadRiskInput, ReliabilityOutOfReach.
    """
    u_measurement = _measurement(ratio, k)
    spread = _spread(ratio, reliability, means, u_measurement)
    risks = _centred(spread, u_measurement, acceptance)
    return RatioRisks(ratio, reliability, means, acceptance, risks)


def worst_over_reliability(
    ratio: float, means: ReliabilityMeans, *, k: float = 2.0, acceptance: float = 1.0
) -> Worst:
    """Find the reliability at which most bad items would be accepted at a ``ratio``: what holds whoever comes."""
    u = _measurement(ratio, k)

    def consumer(log_spread: float) -> float:
        return _centred(math.exp(log_spread), u, acceptance).consumer

    spread = math.exp(_peak(consumer, math.log(0.02), math.log(50.0)))
    seen = spread if means is ReliabilityMeans.TRUE else math.hypot(spread, u)
    return Worst(consumer(math.log(spread)), ratio, 2 * NormalDist().cdf(1 / seen) - 1)


def worst_over_ratio(
    reliability: float, means: ReliabilityMeans, *, k: float = 2.0, acceptance: float = 1.0
) -> Worst:
    """Find the ratio at which most bad items would be accepted at a ``reliability``: what holds for any measurement."""
    least = 1e-3
    if means is ReliabilityMeans.OBSERVED:
        # Below this ratio the measurement alone scatters more than was observed.
        least = _quantile(reliability) / k * (1 + 1e-9)

    def consumer(log_ratio: float) -> float:
        return ratio_risks(math.exp(log_ratio), reliability, means, k=k, acceptance=acceptance).risks.consumer

    ratio = math.exp(_peak(consumer, math.log(least), math.log(1000.0)))
    return Worst(consumer(math.log(ratio)), ratio, reliability)


def managed_guard(ratio: float) -> float:
    """Give the multiple of U that keeps the consumer's risk under 2 % at any reliability.

    M = 1.04 − exp(0.38·ln(ratio) − 0.54), none where negative (ANSI/NCSL Z540.3 practice, from memory).
    """
    _measurement(ratio, 1.0)
    return max(0.0, 1.04 - math.exp(0.38 * math.log(ratio) - 0.54))


def root_sum_guard(ratio: float) -> float:
    """Give the acceptance limit √(1 − 1/ratio²) in limits; raises BadRiskInput for a ratio under 1."""
    if not ratio >= 1:
        raise BadRiskInput(expected="a ratio of 1 or more for this guard", found=ratio)
    return math.sqrt(1 - 1 / ratio**2)


def _centred(spread: float, u_measurement: float, acceptance: float) -> GlobalRisks:
    if not (math.isfinite(acceptance) and acceptance >= 0):
        raise BadRiskInput(expected="an acceptance limit of zero or more", found=acceptance)
    zone = Limits(-Decimal(acceptance), Decimal(acceptance))
    return global_risks(UNIT, zone, Prior(0.0, spread), u_measurement)


def _measurement(ratio: float, k: float) -> float:
    for expected, value in (("a ratio above zero", ratio), ("a coverage factor above zero", k)):
        if not (math.isfinite(value) and value > 0):
            raise BadRiskInput(expected=expected, found=value)
    return 1 / (ratio * k)


def _quantile(reliability: float) -> float:
    if not 0 < reliability < 1:
        raise BadRiskInput(expected="a reliability above 0 and below 1", found=reliability)
    quantile = NormalDist().inv_cdf((1 + reliability) / 2)
    if quantile <= 0:
        raise BadRiskInput(expected="a reliability that a float tells from 0", found=reliability)
    return quantile


def _spread(ratio: float, reliability: float, means: ReliabilityMeans, u_measurement: float) -> float:
    seen = 1 / _quantile(reliability)
    if means is ReliabilityMeans.TRUE:
        return seen
    if seen <= u_measurement:
        most = 2 * NormalDist().cdf(1 / u_measurement) - 1
        raise ReliabilityOutOfReach(most=most, ratio=ratio, found=reliability)
    return math.sqrt((seen - u_measurement) * (seen + u_measurement))


def _peak(value: Callable[[float], float], low: float, high: float) -> float:
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(
        lambda place: -value(place), bounds=(low, high), method="bounded", options={"xatol": 1e-7}
    )
    return float(found.x)
