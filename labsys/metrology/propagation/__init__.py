"""Propagation of uncertainty through a model: a sum of terms, or a linear model by its sensitivities.

Lives here: derivatives, inputs, correlation, the law of propagation. May not live here: the components of a procedure
(specs), which are linear already and added up by ``budget.combine``; simulation.
"""

from labsys.metrology.propagation.correlation import INDEPENDENT, BadCorrelation, Correlation, of_pairs
from labsys.metrology.propagation.inputs import (
    Input,
    TooFewReadings,
    correlation_of_readings,
    mean_of_readings,
    of_components,
)
from labsys.metrology.propagation.jets import Function, OutsideDomain
from labsys.metrology.propagation.known import OutOfNumbers
from labsys.metrology.propagation.model import BadModel, Factor, Model, Slopes, Term, linear, power_product
from labsys.metrology.propagation.propagate import FreedomUndecided, propagate, results_correlation
from labsys.metrology.propagation.results import (
    Contribution,
    Order,
    PairContribution,
    Propagation,
    Settings,
    SharedFreedom,
)
from labsys.metrology.propagation.second_order import SecondOrderOfCorrelated

__all__ = [
    "INDEPENDENT",
    "BadCorrelation",
    "BadModel",
    "Contribution",
    "Correlation",
    "Factor",
    "FreedomUndecided",
    "Function",
    "Input",
    "Model",
    "Order",
    "OutOfNumbers",
    "OutsideDomain",
    "PairContribution",
    "Propagation",
    "SecondOrderOfCorrelated",
    "Settings",
    "SharedFreedom",
    "Slopes",
    "Term",
    "TooFewReadings",
    "correlation_of_readings",
    "linear",
    "mean_of_readings",
    "of_components",
    "of_pairs",
    "power_product",
    "propagate",
    "results_correlation",
]
