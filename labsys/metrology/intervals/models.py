"""Reliability models R(t): the probability of being in tolerance at age t, by name.

Lives here: the catalogue of laws with their parameters. May not live here: formulas (laws.py, pins.py), data, fits.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from labsys.metrology.intervals import laws, pins

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


class ModelName(StrEnum):
    """The models, by the word they have in a file."""

    EXPONENTIAL = "exponential"
    WEIBULL = "weibull"
    MIXED_EXPONENTIAL = "mixed_exponential"
    RANDOM_WALK = "random_walk"
    RESTRICTED_WALK = "restricted_walk"
    MODIFIED_GAMMA = "modified_gamma"
    MORTALITY_DRIFT = "mortality_drift"
    WARRANTY = "warranty"
    DRIFT = "drift"
    LOGNORMAL = "lognormal"


@dataclass(frozen=True, slots=True)
class Model:
    """A family of laws with parameters above zero.

    ``powers`` say how each parameter changes with the unit of time: −1 for a rate per month. ``log_reliability`` takes
    ages and parameters. ``pinned`` takes an interval I, a target R* above 0.5 and k − 1 free numbers of shape
    (k − 1, m) and gives parameters (k, m), all above zero, for which R(I) = R*.
    """

    name: ModelName
    parameters: tuple[str, ...]
    powers: tuple[int, ...]
    formula: str
    typical_of: str
    nests_exponential: bool
    log_reliability: Callable[[Array, Array], Array]
    pinned: Callable[[float, float, Array], Array]


_N = ModelName
_ALL = (
    Model(_N.EXPONENTIAL, ("a",), (-1,), "exp(−a·t)", "random shocks, constant hazard", False,
          laws.exponential, pins.single(pins.log_hazard)),
    Model(_N.WEIBULL, ("a", "b"), (-1, 0), "exp(−(a·t)^b)", "wear (b > 1), early failures (b < 1)", True,
          laws.weibull, pins.weibull),
    Model(_N.MIXED_EXPONENTIAL, ("a", "b"), (-1, 0), "(1 + a·t)^(−b)", "good and bad items mixed", True,
          laws.mixed, pins.mixed),
    Model(_N.RANDOM_WALK, ("a", "b"), (0, -1), "erf(1/√(a + b·t))", "a value that diffuses", False,
          laws.walk, pins.walk),
    Model(_N.RESTRICTED_WALK, ("a", "b", "c"), (0, 0, -1), "erf(1/√(a + b·(1 − exp(−c·t))))",
          "diffusion with a bound", False, laws.restricted, pins.restricted),
    Model(_N.MODIFIED_GAMMA, ("a",), (-1,), "exp(−a·t)·Σ (a·t)^k/k!, k = 0 to 3", "several small shocks needed",
          False, laws.gamma, pins.single(pins.gamma_hazard)),
    Model(_N.MORTALITY_DRIFT, ("a", "b"), (-1, -2), "exp(−(a·t + b·t²))", "slowly rising hazard", True,
          laws.mortality, pins.mortality),
    Model(_N.WARRANTY, ("a", "b"), (-1, 1), "1/(1 + exp(a·(t − b)))", "a drop near a definite age", False,
          laws.warranty, pins.warranty),
    Model(_N.DRIFT, ("a", "b", "c"), (0, 0, -1), "Φ(a + c·t) + Φ(b − c·t) − 1",
          "steady drift of a normal population", False, laws.drift, pins.drift),
    Model(_N.LOGNORMAL, ("a", "b"), (-1, 0), "1 − Φ(ln(a·t)/b)", "wear of many small steps that multiply", False,
          laws.lognormal, pins.lognormal),
)  # fmt: skip

MODELS: Final[dict[ModelName, Model]] = {one.name: one for one in _ALL}
"""Every model by name (NCSLI RP-1 and NASA RP-1342, list from memory; parameters a, b, c above 0)."""
