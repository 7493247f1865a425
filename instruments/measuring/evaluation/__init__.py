"""The bridge from readings to the numbers: what readings say, with both uncertainties and the verdict.

Everything is computed from stored rows and frozen content; nothing is stored here, so the bench can ask at any time.
"""

from instruments.measuring.evaluation.evaluated import NON_NEGATIVE, Evaluated, limits_with_floor
from instruments.measuring.evaluation.ground import Ground, ground_of
from instruments.measuring.evaluation.points import evaluate_point, evaluate_zero, prospect_of
from instruments.measuring.evaluation.runs import (
    evaluate_run,
    is_out_of_tolerance,
    results_together,
    try_rule,
)

__all__ = [
    "NON_NEGATIVE",
    "Evaluated",
    "Ground",
    "evaluate_point",
    "evaluate_run",
    "evaluate_zero",
    "ground_of",
    "is_out_of_tolerance",
    "limits_with_floor",
    "prospect_of",
    "results_together",
    "try_rule",
]
