"""Propagation of distributions: many trials of a measurement model, and what they say (JCGM 101:2008).

Lives here: densities of inputs, drawing them in blocks, fixed and adaptive numbers of trials, coverage intervals,
the comparison with first order, the simulation of a budget. May not live here: a generator of its own (``rng`` is
passed in), models of particular measurements. Lengths are whatever unit the inputs have; of a budget, mm.
"""

from __future__ import annotations

from labsys.metrology.simulation.bounded import Between, Density, Form
from labsys.metrology.simulation.budgets import MixedGroup, compare_budget, density_of, model_of
from labsys.metrology.simulation.comparison import (
    LARGEST_DIFFERENCE,
    Comparison,
    FirstOrder,
    ProbabilitiesDiffer,
    compare,
)
from labsys.metrology.simulation.densities import (
    BadDensity,
    Fixed,
    Normal,
    Student,
    TooLittleFreedomToDraw,
)
from labsys.metrology.simulation.intervals import (
    CoverageInterval,
    IntervalKind,
    TooFewValues,
    Wanted,
    interval_of,
)
from labsys.metrology.simulation.model import (
    Correlation,
    ImpossibleCorrelation,
    Input,
    InputsUnclear,
    MeasurementModel,
)
from labsys.metrology.simulation.stability import BadDigits, Stability, numerical_tolerance
from labsys.metrology.simulation.trials import (
    ModelFailed,
    Simulation,
    TrialsOutOfRange,
    simulate,
    simulate_adaptively,
)

__all__ = [
    "LARGEST_DIFFERENCE",
    "ImpossibleCorrelation",
    "BadDensity",
    "BadDigits",
    "Between",
    "Comparison",
    "Correlation",
    "CoverageInterval",
    "Density",
    "FirstOrder",
    "Fixed",
    "Form",
    "Input",
    "InputsUnclear",
    "IntervalKind",
    "MeasurementModel",
    "MixedGroup",
    "ModelFailed",
    "Normal",
    "ProbabilitiesDiffer",
    "Simulation",
    "Stability",
    "Student",
    "TooFewValues",
    "TooLittleFreedomToDraw",
    "TrialsOutOfRange",
    "Wanted",
    "compare",
    "compare_budget",
    "density_of",
    "interval_of",
    "model_of",
    "numerical_tolerance",
    "simulate",
    "simulate_adaptively",
]
