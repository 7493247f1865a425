"""``stability``: how much the length of a gauge block may change in a year.

Fields:
    length: of the block, a length (mm)
    grade: a text: K, 0, 1, 2, AS-1 or AS-2

Answers:
    change_um: the largest change permitted in a year, µm
"""

from __future__ import annotations

from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.stability import BlockGrade, permitted_change_um


def answer(fields: Fields) -> Answer:
    """Give the change permitted; raises QuestionUnreadable, NoBlockLength."""
    length, grade = float(fields.length("length")), fields.one_of("grade", BlockGrade)
    fields.finish()
    found = permitted_change_um(length, grade)
    step = Step("constant of the grade + its share of the length", found)
    return Answer({"change_um": found}, (step,), ("ISO 3650", "US Army TB 9-5210-205-50"))
