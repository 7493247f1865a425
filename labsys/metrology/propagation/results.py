"""What propagation is told and what it gives: settings, one line for each input, the whole.

Lives here: small frozen values that explain themselves. May not live here: arithmetic.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule, Shape


class Order(StrEnum):
    """How far the model is followed.

    ``auto``: first order, and the second as soon as an input moves the result more by its second order than by its
    first (always where the first vanishes).
    """

    FIRST = "first"
    SECOND = "second"
    AUTO = "auto"


class SharedFreedom(StrEnum):
    """What becomes of correlated inputs with different degrees of freedom.

    The formula of Welch and Satterthwaite is for independent inputs. Correlated inputs with equal ν were found
    together and count as one with that ν (R. Willink, Metrologia 44 (2007) 340). With different ν: ``refuse``, or
    count the bundle with the ``least``, as ``combine`` does.
    """

    REFUSE = "refuse"
    LEAST = "least"


@dataclass(frozen=True, slots=True)
class Settings:
    """What is agreed beforehand: probability of coverage, rules for ν, order, and the unit of the result."""

    probability: float = DEFAULT_PROBABILITY
    freedom_rule: FreedomRule = FreedomRule.TRUNCATE
    shared_freedom: SharedFreedom = SharedFreedom.REFUSE
    order: Order = Order.AUTO
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Contribution:
    """One input: c = ∂y/∂x, u(x), c·u(x) with its sign, and its shares of the variance.

    ``own_share`` is (c·u)²/u_c², ``correlation_share`` half of what its correlations add (may be negative).
    """

    name: str
    estimate: float
    u: float
    nu: float
    sensitivity: float
    contribution: float
    own_share: float
    correlation_share: float

    @property
    def share(self) -> float:
        """Give both shares together; with the shares of the second order they add up to 1."""
        return self.own_share + self.correlation_share


@dataclass(frozen=True, slots=True)
class PairContribution:
    """What two inputs (or one with itself) add at second order: the root of the variance, with the variance's sign."""

    first: str
    second: str
    contribution: float
    share: float


@dataclass(frozen=True, slots=True)
class Propagation:
    """The result, in ``settings.unit``: estimate, standard uncertainty ``u`` and expanded ``U`` = k·u.

    ``order`` is what was used, ``first_order_u`` what the first alone gives. ``shift`` = ½·Σ ∂²y/∂x²·u² is how far the
    curvature moves the mean; it isn't added to the estimate. ``nu_eff`` are the degrees of freedom as worked out,
    ``nu_used`` after ``settings.freedom_rule``. ``beta`` is set for the trapezoidal shape only.
    """

    estimate: float
    u: float
    U: float
    k: float
    shape: Shape
    beta: float | None
    nu_eff: float
    nu_used: float
    order: Order
    first_order_u: float
    shift: float
    contributions: tuple[Contribution, ...]
    pairs: tuple[PairContribution, ...]
    settings: Settings

    @property
    def correlation_share(self) -> float:
        """Give the share of the variance that correlations add or take away."""
        return math.fsum(one.correlation_share for one in self.contributions)

    @property
    def second_order_share(self) -> float:
        """Give the share of the variance that comes from second order."""
        return math.fsum(one.share for one in self.pairs)
