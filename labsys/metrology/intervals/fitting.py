"""Fitting a reliability model to checks by greatest likelihood, and the interval at which it meets a target.

Lives here: fits, the interval of a fit. May not live here: limits (profiling.py), the choice between models.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labsys.errors import LabError
from labsys.metrology.intervals.checks import Checks
from labsys.metrology.intervals.likelihood import Likelihood
from labsys.metrology.intervals.maximising import edges_at, maximise
from labsys.metrology.intervals.models import Model, ModelName

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

FARTHEST = 1e6
"""An interval beyond this many times the longest age seen counts as infinite."""


class OutcomesAllAlike(LabError, ValueError):
    """Outcomes that are all in or all out of tolerance, which no model can be fitted to."""

    code = "outcomes-all-alike"
    sentence = (
        "Expected outcomes in and out of tolerance, found {n} that are all {which}: the greatest likelihood lies at an "
        "endless or a vanishing interval. Keep the interval and take the interval test."
    )


class TargetTooLow(LabError, ValueError):
    """A target reliability that isn't above one half."""

    code = "target-too-low"
    sentence = "Expected a target reliability above 0.5 and below 1, found {found}. 0.95 is usual."


@dataclass(frozen=True, slots=True)
class Fit:
    """A model at its greatest likelihood: parameters (per month), ln L, AIC = 2k − 2·ln L.

    ``is_edge`` says for each parameter that the likelihood has no maximum in it: the model collapses to a simpler one.
    """

    model: Model
    parameters: tuple[float, ...]
    log_likelihood: float
    is_edge: tuple[bool, ...]

    @property
    def name(self) -> ModelName:
        """Give the model's name."""
        return self.model.name

    @property
    def aic(self) -> float:
        """Give Akaike's criterion, 2k − 2·ln L."""
        return 2 * len(self.parameters) - 2 * self.log_likelihood

    def log_reliability(self, age: float) -> float:
        """Give ln R at an ``age`` in months."""
        import numpy as np

        at = np.array(self.parameters)[:, np.newaxis, np.newaxis]
        with np.errstate(all="ignore"):
            return float(self.model.log_reliability(np.array([age]), at)[0, 0])

    def reliability(self, age: float) -> float:
        """Give R at an ``age`` in months."""
        return math.exp(self.log_reliability(age))


def fit(checks: Checks, model: Model) -> Fit:
    """Find the parameters of greatest likelihood, as logarithms and in units of the mean age, from several starts.

    Where the rate in tolerance rises with age, a drift law can have a further maximum that falls as a cliff between two
    ages; it describes nothing and may be passed over. Raises OutcomesAllAlike, NotConverged.
    """
    import numpy as np

    if checks.data.out in (0, checks.data.used):
        raise OutcomesAllAlike(n=checks.data.used, which="out" if checks.data.out else "in")
    likelihood = Likelihood(checks, model)
    units = _units(checks, model)

    def function(places: Array) -> Array:
        return likelihood(np.exp(places) * units[:, np.newaxis])

    best = maximise(function, len(model.parameters), names=model.parameters)
    parameters = tuple(float(one) for one in np.exp(best.place) * units)
    return Fit(model, parameters, best.value, edges_at(function, best.place))


def interval_at(found: Fit, target: float, longest: float) -> float:
    """Give the age (months) at which R has fallen to ``target``: 0 where it starts below, infinite where it never does.

    ``longest`` is the longest age seen, from which the search begins. Raises TargetTooLow.
    """
    from scipy.optimize import brentq

    refuse_low_target(target)

    def above(log_age: float) -> float:
        return found.log_reliability(math.exp(log_age)) - math.log(target)

    low, high = math.log(longest / FARTHEST), math.log(longest * FARTHEST)
    if above(low) <= 0:
        return 0.0
    if above(high) >= 0:
        return math.inf
    return math.exp(float(brentq(above, low, high, xtol=1e-13, rtol=1e-14)))


def refuse_low_target(target: float) -> None:
    """Raise TargetTooLow unless ``target`` lies above one half and below one."""
    if not 0.5 < target < 1:
        raise TargetTooLow(found=target)


def _units(checks: Checks, model: Model) -> Array:
    import numpy as np

    mean_age = sum(one.age * one.n for one in checks.each) / checks.data.used
    found: Array = np.array([mean_age**power for power in model.powers])
    return found
