"""What one revision of a procedure says: its parts, read from JSON with every fault named, written canonically.

The front door: ``Content``, ``parse``, ``dump``. No tables here, no arithmetic; what the fields mean stands at the
records in ``parts.py``.
"""

from __future__ import annotations

from instruments.procedures.content.lengths import Band
from instruments.procedures.content.parsing import ContentFault, ContentNotJson, parse
from instruments.procedures.content.parts import (
    FUNCTIONS,
    INDICATIONS,
    PLACES,
    ZEROS,
    ConditionLimits,
    Content,
    Look,
    PointRules,
    ReferenceNeeds,
    Repeatability,
    ZeroPolicy,
)
from instruments.procedures.content.series import DIRECTIONS, ResultRule, Series, place_words
from instruments.procedures.content.writing import dump, laid_out, to_json
from labsys.metrology.plan import Window

__all__ = [
    "DIRECTIONS",
    "ZEROS",
    "ResultRule",
    "Series",
    "place_words",
    "FUNCTIONS",
    "INDICATIONS",
    "PLACES",
    "Band",
    "ConditionLimits",
    "Content",
    "ContentFault",
    "ContentNotJson",
    "Look",
    "PointRules",
    "ReferenceNeeds",
    "Repeatability",
    "Window",
    "ZeroPolicy",
    "dump",
    "laid_out",
    "parse",
    "to_json",
]
