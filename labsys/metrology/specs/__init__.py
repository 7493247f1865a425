"""The kinds of uncertainty component a procedure may hold, and how they are stored.

There's no formula language: a new effect is a new kind here. Common to all: ``name``, ``source`` (where the
size comes from), ``views`` (which budgets it enters, where not the usual ones). Adding up lives in budget.py,
both views in evaluation.py.
"""

from labsys.metrology.specs.base import Spec
from labsys.metrology.specs.forms import (
    KINDS,
    SHAPES,
    SpecUnreadable,
    spec_from_json,
    spec_to_json,
    specs_from_json,
    specs_to_json,
)
from labsys.metrology.specs.general import Abbe, Constant, Geometry, Proportional
from labsys.metrology.specs.geometry import Alignment, Contact, Parallelism
from labsys.metrology.specs.reading import Reading, Zero
from labsys.metrology.specs.standards import Drift, StandardValue, Wringing
from labsys.metrology.specs.temperature import ExpansionDifference, TemperatureDifference

__all__ = [
    "KINDS",
    "SHAPES",
    "Abbe",
    "Alignment",
    "Constant",
    "Contact",
    "Drift",
    "ExpansionDifference",
    "Geometry",
    "Parallelism",
    "Proportional",
    "Reading",
    "Spec",
    "SpecUnreadable",
    "StandardValue",
    "TemperatureDifference",
    "Wringing",
    "Zero",
    "spec_from_json",
    "spec_to_json",
    "specs_from_json",
    "specs_to_json",
]
