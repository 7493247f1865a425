"""Global risks of a population: true errors spread normally, each measured once with a normal uncertainty.

Lives here: the joint model, both global risks, the guard that holds one of them. May not live here: how the
population became known (family.py, ratio.py), one item alone (specific.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal, InvalidOperation, localcontext
from typing import Final

from labsys.errors import LabError
from labsys.metrology.acceptance import shifted_inward
from labsys.metrology.error import PICOMETRE
from labsys.metrology.exact import EXACT
from labsys.metrology.limits import LimitMissing, Limits
from labsys.metrology.risk.integral import Sides, mass_accepted, mass_refused, normal_between

MOST_GUARD_SPREADS: Final = 40.0
"""On one side no guard wider than this many spreads is searched: the risk there is smaller than a float can hold."""


class BadRiskInput(LabError, ValueError):
    """A population, an uncertainty or a wanted risk that makes no model."""

    code = "bad-risk-input"
    sentence = "Risk: expected {expected}, found {found}. Correct the value."


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a population before an item is measured: normal, mean and standard deviation in mm."""

    mean_mm: float
    u_mm: float

    def __post_init__(self) -> None:
        """Refuse what spreads nothing."""
        if not math.isfinite(self.mean_mm):
            raise BadRiskInput(expected="a finite mean of the population", found=self.mean_mm)
        if not (math.isfinite(self.u_mm) and self.u_mm > 0):
            raise BadRiskInput(expected="a spread of the population above zero", found=self.u_mm)


@dataclass(frozen=True, slots=True)
class GlobalRisks:
    """Probabilities for the next item of a population, before it is measured (JCGM 106:2012, 9.5).

    ``consumer``: it doesn't conform and is accepted; ``producer``: it conforms and is refused; ``conforming``: it
    conforms; ``accepted``: it is accepted. ``limits``, ``acceptance``, ``prior`` and ``u_measurement_mm`` are what
    they were worked out from, in mm.
    """

    consumer: float
    producer: float
    conforming: float
    accepted: float
    limits: Limits
    acceptance: Limits
    prior: Prior
    u_measurement_mm: float

    @property
    def false_among_accepted(self) -> float | None:
        """Give the share of accepted items that don't conform, None where nothing is ever accepted."""
        return self.consumer / self.accepted if self.accepted > 0 else None


@dataclass(frozen=True, slots=True)
class GuardFound:
    """A guard w in mm that holds a wanted risk, and the risks with it."""

    guard_mm: Decimal
    wanted: float
    risks: GlobalRisks


def global_risks(limits: Limits, acceptance: Limits, prior: Prior, u_measurement_mm: float) -> GlobalRisks:
    """Integrate both global risks over the joint distribution of true and measured value (JCGM 106:2012, 9.5.3).

    ``limits`` bound the true value, ``acceptance`` the measured one, all in mm; either may be one-sided.
    ``u_measurement_mm`` 0 means an exact measurement. Small risks keep their relative precision, for everything
    integrated is positive. Raises LimitMissing, BadRiskInput.
    """
    true, measured = _sides(limits, prior, u_measurement_mm), _sides(acceptance, prior, u_measurement_mm)
    seen_u = math.hypot(prior.u_mm, u_measurement_mm)
    normal = (prior.mean_mm, prior.u_mm)
    return GlobalRisks(
        consumer=mass_accepted(normal, u_measurement_mm, outside=true, accepted=measured),
        producer=mass_refused(normal, u_measurement_mm, inside=true, accepted=measured),
        conforming=normal_between(true, prior.mean_mm, prior.u_mm),
        accepted=normal_between(measured, prior.mean_mm, seen_u),
        limits=limits,
        acceptance=acceptance,
        prior=prior,
        u_measurement_mm=u_measurement_mm,
    )


def guard_for_global_risk(
    limits: Limits, prior: Prior, u_measurement_mm: float, *, consumer: float
) -> GuardFound:
    """Find the smallest guard w ≥ 0, inward from both limits, with a global consumer's risk of at most ``consumer``.

    Rounded up to a whole picometre, so that the risk is held and not just met. Between two limits there is always
    one, at worst all that lies between them; ``risks.producer`` says what it costs. Raises LimitMissing, BadRiskInput
    (also for a wanted risk that isn't above 0 and below 1).
    """
    if not 0 < consumer < 1:
        raise BadRiskInput(expected="a wanted risk above 0 and below 1", found=consumer)
    sides = _sides(limits, prior, u_measurement_mm)

    def excess(guard: float) -> float:
        inner = (sides[0] + guard, sides[1] - guard)
        normal = (prior.mean_mm, prior.u_mm)
        return mass_accepted(normal, u_measurement_mm, outside=sides, accepted=inner) - consumer

    found = 0.0 if excess(0.0) <= 0 else _root(excess, _widest(sides, prior, u_measurement_mm))
    guard, step = rounded_up(Decimal(found)), PICOMETRE
    while True:
        zone = shifted_inward(limits, guard) or _middle(limits)
        risks = global_risks(limits, zone, prior, u_measurement_mm)
        if risks.consumer <= consumer:
            return GuardFound(guard, consumer, risks)
        # The root is good to the last digits of a float only; where those are more than a picometre, it is exceeded.
        guard, step = guard + step, step * 2


def rounded_up(value_mm: Decimal) -> Decimal:
    """Round up to a whole picometre; raises BadRiskInput for what no length is."""
    with localcontext(EXACT):
        try:
            return value_mm.quantize(PICOMETRE, rounding=ROUND_CEILING)
        except InvalidOperation as fault:
            raise BadRiskInput(
                expected="limits and uncertainties that lengths have", found=value_mm
            ) from fault


def _root(excess: Callable[[float], float], widest: float) -> float:
    from scipy.optimize import brentq

    return float(brentq(excess, 0.0, widest, xtol=1e-13 * widest, rtol=1e-15))


def _widest(sides: Sides, prior: Prior, u_measurement_mm: float) -> float:
    """Give the guard at which surely nothing is accepted any more."""
    if math.isfinite(sides[0]) and math.isfinite(sides[1]):
        return (sides[1] - sides[0]) / 2
    limit = sides[0] if math.isfinite(sides[0]) else sides[1]
    return abs(limit - prior.mean_mm) + MOST_GUARD_SPREADS * math.hypot(prior.u_mm, u_measurement_mm)


def _middle(limits: Limits) -> Limits:
    """Give the one value that is left where rounding up the guard closed the zone."""
    if limits.lower is None or limits.upper is None:
        return limits
    middle = (limits.lower + limits.upper) / 2
    return Limits(middle, middle)


def _sides(limits: Limits, prior: Prior, u_measurement_mm: float) -> Sides:
    """Give both limits as floats, infinite where there is none; refuses what the integral can't hold."""
    if limits.lower is None and limits.upper is None:
        raise LimitMissing()
    if not (math.isfinite(u_measurement_mm) and u_measurement_mm >= 0):
        raise BadRiskInput(expected="a measurement uncertainty of zero or more", found=u_measurement_mm)
    lower = -math.inf if limits.lower is None else float(limits.lower)
    upper = math.inf if limits.upper is None else float(limits.upper)
    if not math.isfinite(MOST_GUARD_SPREADS * (u_measurement_mm / prior.u_mm)):
        raise BadRiskInput(
            expected="an uncertainty within reach of the population's spread", found=u_measurement_mm
        )
    for limit in (limits.lower, limits.upper):
        if limit is not None and not math.isfinite((float(limit) - prior.mean_mm) / prior.u_mm):
            raise BadRiskInput(expected="limits within reach of the population's spread", found=limit)
    return lower, upper
