"""What becomes of earlier results when a standard turns out to have had another value than the one used.

Lives here: carrying changes of standards through stored sensitivities and any number of levels, worst case and
interpolated in time, the verdicts that flip, how severe a finding is, what it means for a product. May not live here:
who is told, cases, records; nothing is overwritten, what comes out are new values beside the old.
"""

from labsys.metrology.reevaluation.many import ReevaluationArrays, reevaluate_many
from labsys.metrology.reevaluation.ordering import ChainIsACircle
from labsys.metrology.reevaluation.records import Change, NameTaken, StoredResult, Use, WrongComponent
from labsys.metrology.reevaluation.reevaluating import Outcome, Reevaluated, Reevaluation, reevaluate
from labsys.metrology.reevaluation.severity import (
    ProductImpact,
    ProductStatus,
    Severity,
    product_impact,
    severity,
)
from labsys.metrology.reevaluation.tables import (
    NO_COLUMN,
    NO_DAY,
    NO_RULE,
    BadReevaluation,
    ChangeArrays,
    ChangeTooLarge,
    ResultArrays,
    UseArrays,
)

__all__ = [
    "NO_COLUMN",
    "NO_DAY",
    "NO_RULE",
    "BadReevaluation",
    "ChainIsACircle",
    "Change",
    "ChangeArrays",
    "ChangeTooLarge",
    "NameTaken",
    "Outcome",
    "ProductImpact",
    "ProductStatus",
    "Reevaluated",
    "Reevaluation",
    "ReevaluationArrays",
    "ResultArrays",
    "Severity",
    "StoredResult",
    "Use",
    "UseArrays",
    "WrongComponent",
    "product_impact",
    "reevaluate",
    "reevaluate_many",
    "severity",
]
