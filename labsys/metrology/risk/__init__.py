"""Consumer's and producer's risk: of one measured item, of all items of a population, by ratio, of a family.

Lives here: probabilities of wrong acceptance and wrong rejection, and guards that hold them (JCGM 106:2012, clause 9).
May not live here: verdicts, the rules themselves, where a family's errors are kept.
"""

from labsys.metrology.risk.family import LEAST_ERRORS, FamilyRisks, family_risks
from labsys.metrology.risk.population import (
    BadRiskInput,
    GlobalRisks,
    GuardFound,
    Prior,
    global_risks,
    guard_for_global_risk,
)
from labsys.metrology.risk.ratio import (
    RatioRisks,
    ReliabilityMeans,
    ReliabilityOutOfReach,
    Worst,
    managed_guard,
    ratio_risks,
    root_sum_guard,
    worst_over_ratio,
    worst_over_reliability,
)
from labsys.metrology.risk.specific import SpecificRisk, posterior, rejection_limits, specific_risk

__all__ = [
    "LEAST_ERRORS",
    "BadRiskInput",
    "FamilyRisks",
    "GlobalRisks",
    "GuardFound",
    "Prior",
    "RatioRisks",
    "ReliabilityMeans",
    "ReliabilityOutOfReach",
    "SpecificRisk",
    "Worst",
    "family_risks",
    "global_risks",
    "guard_for_global_risk",
    "managed_guard",
    "posterior",
    "ratio_risks",
    "rejection_limits",
    "root_sum_guard",
    "specific_risk",
    "worst_over_ratio",
    "worst_over_reliability",
]
