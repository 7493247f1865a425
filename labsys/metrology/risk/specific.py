"""The risk of one measured item, with or without what was known of its kind before.

Lives here: the posterior of a normal prior and the specific risks. May not live here: populations of items not
yet measured (population.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal, localcontext

from labsys.metrology.conformance import Spread, conformance_probability, nonconformance_probability
from labsys.metrology.exact import EXACT
from labsys.metrology.limits import LimitMissing, Limits, within_limits
from labsys.metrology.risk.population import BadRiskInput, Prior, rounded_up


@dataclass(frozen=True, slots=True)
class SpecificRisk:
    """What a verdict on one item risks (JCGM 106:2012, 9.3).

    ``conformance`` is the probability that the true value lies within the limits, ``nonconformance`` that it doesn't.
    ``value_mm`` and ``u_mm`` describe the item after measuring, with a prior taken in.
    """

    is_accepted: bool
    conformance: float
    nonconformance: float
    value_mm: Decimal
    u_mm: float

    @property
    def risk(self) -> float:
        """Give the consumer's risk of an accepted item, the producer's of a refused one."""
        return self.nonconformance if self.is_accepted else self.conformance

    @property
    def whose(self) -> str:
        """Say whose risk it is."""
        return "consumer" if self.is_accepted else "producer"


def posterior(value_mm: Decimal, u_measurement_mm: float, prior: Prior) -> tuple[Decimal, float]:
    """Give mean and standard uncertainty (mm) of an item after it was measured.

    Both weighted by their inverse variances: normal prior, normal measurement (JCGM 106:2012, 7.2.2 and A.4.4, the
    formula from memory). Raises BadRiskInput.
    """
    share = prior.u_mm / math.hypot(prior.u_mm, _measured(u_measurement_mm))
    mean = Decimal(prior.mean_mm)
    return mean + Decimal(share**2) * (value_mm - mean), share * u_measurement_mm


def specific_risk(
    value_mm: Decimal, limits: Limits, acceptance: Limits, spread: Spread, *, prior: Prior | None = None
) -> SpecificRisk:
    """Give the risk of the verdict on one item: accepted where ``value_mm`` lies within ``acceptance`` (mm).

    Without a ``prior`` the measurement alone speaks, in the shape of ``spread``; with one both are taken as normal.
    Raises LimitMissing, BadRiskInput.
    """
    value, found = value_mm, spread
    if prior is not None:
        value, u_mm = posterior(value_mm, spread.u_mm, prior)
        found = Spread(u_mm)
    return SpecificRisk(
        is_accepted=within_limits(value_mm, acceptance),
        conformance=conformance_probability(value, limits, found),
        nonconformance=nonconformance_probability(value, limits, found),
        value_mm=value,
        u_mm=found.u_mm,
    )


def rejection_limits(
    limits: Limits, u: float, *, conforming: float, nu: float = math.inf, is_relative: bool = False
) -> Limits:
    """Give the limits beyond which an item is refused, conforming with a probability of at most ``conforming``.

    Guarded rejection (JCGM 106:2012, 8.3.3): (y − T)/u = z at the limit found, z the quantile of the normal or of
    Student's distribution with ``nu``. ``u`` is in mm or, ``is_relative``, a share of the value y itself. Between two
    limits each counts alone, which is on the safe side. Rounded outward to a picometre. Raises LimitMissing,
    BadRiskInput (also where a relative ``u`` is so large that no value proves anything).
    """
    if limits.lower is None and limits.upper is None:
        raise LimitMissing()
    reach = _quantile(conforming, nu) * _measured(u)
    if not math.isfinite(reach):
        raise BadRiskInput(expected="a probability and degrees of freedom with a quantile", found=conforming)
    if is_relative and reach >= 1:
        raise BadRiskInput(expected=f"a relative uncertainty under {u / reach:.3g}", found=u)
    lower = None if limits.lower is None else -_beyond(-limits.lower, reach, is_relative=is_relative)
    upper = None if limits.upper is None else _beyond(limits.upper, reach, is_relative=is_relative)
    return Limits(lower, upper)


def _beyond(limit: Decimal, reach: float, *, is_relative: bool) -> Decimal:
    """Move an upper limit outward: by the reach, or by the reach times the value found there."""
    exact = Decimal(reach)
    with localcontext(EXACT):
        found = limit / (1 - exact.copy_sign(limit)) if is_relative else limit + exact
    return rounded_up(found)


def _quantile(conforming: float, nu: float) -> float:
    if not 0 < conforming <= 0.5:
        raise BadRiskInput(expected="a probability above 0 and at most 0.5", found=conforming)
    from scipy.special import ndtri, stdtrit

    return -float(ndtri(conforming) if math.isinf(nu) else stdtrit(nu, conforming))


def _measured(u: float) -> float:
    if not (math.isfinite(u) and u >= 0):
        raise BadRiskInput(expected="a measurement uncertainty of zero or more", found=u)
    return u
