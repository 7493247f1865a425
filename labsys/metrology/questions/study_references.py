"""The studies of ``study`` on references of known value: bias, linearity, type-1.

Lives here: their fields and what they say. May not live here: studies of designs (study_designs.py).
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse
from labsys.metrology.questions.study_parts import MANUAL, told
from labsys.metrology.studies.bias import BiasStudy, bias_study
from labsys.metrology.studies.linearity import linearity_study
from labsys.metrology.studies.meaning import meaning_of_linearity, meaning_of_type1
from labsys.metrology.studies.type1 import USUAL_SHARE, type1_study
from labsys.metrology.studies.variation import STUDY_WIDTH


def bias(fields: Fields) -> Answer:
    """Answer a bias study."""
    readings, reference = fields.numbers("readings"), fields.number("reference")
    confidence = fields.probability("confidence", 0.95)
    fields.finish()
    found = bias_study(readings, reference, confidence=confidence)
    return Answer(values=asdict(found), steps=(Step("t = bias/(s/√n)", found.bias.t),), sources=(MANUAL,))


def type1(fields: Fields) -> Answer:
    """Answer a type-1 study."""
    reference, confidence = fields.number("reference"), fields.probability("confidence", 0.95)
    settings: dict[str, Any] = {
        "tolerance": fields.number("tolerance", above=0.0),
        "share": fields.number("share", USUAL_SHARE, above=0.0, at_most=1.0),
        "width": fields.number("width", STUDY_WIDTH, above=0.0),
        "step": fields.number("step", above=0.0) if fields.has("step") else None,
    }
    readings = fields.numbers("readings")
    fields.finish()
    found = type1_study(bias_study(readings, reference, confidence=confidence), **settings)
    values = asdict(found)
    return Answer(
        values={
            **values.pop("basis"),
            **values,
            "study_variation": found.study_variation,
            "meaning": told(meaning_of_type1(found)),
        },
        steps=(
            Step("Cg = share · tolerance/(width · s)", found.Cg),
            Step("Cgk = (share · tolerance/2 − |bias|)/(width · s/2)", found.Cgk),
        ),
        sources=("common practice, no source: type-1 study",),
    )


def linearity(fields: Fields) -> Answer:
    """Answer a bias and linearity study."""
    readings = _by_reference(fields)
    variation = fields.number("process_variation", above=0.0) if fields.has("process_variation") else None
    confidence = fields.probability("confidence", 0.95)
    fields.finish()
    found = linearity_study(readings, process_variation=variation, confidence=confidence)
    at: tuple[BiasStudy, ...] = found.at
    return Answer(
        values={**asdict(found), "meaning": told(meaning_of_linearity(found))},
        steps=(
            Step("bias at each reference", {f"{one.reference:g}": one.bias.value for one in at}),
            Step(
                "bias = intercept + slope · reference, least squares",
                [found.intercept.value, found.slope.value],
            ),
        ),
        sources=(MANUAL,),
    )


def _by_reference(fields: Fields) -> dict[float, list[float]]:
    found: dict[float, list[float]] = {}
    for one in fields.objects("references"):
        reference = one.number("reference")
        if reference in found:
            raise refuse(one.at("reference"), "each reference once", reference)
        found[reference] = one.numbers("readings")
        one.finish()
    return found
