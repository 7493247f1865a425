"""What is asked about a reading before it counts: it is a number, and it looks odd.

The value is set aside with the question; sent again as confirmed, it counts.
"""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from instruments.measuring.evaluation import ground_of, prospect_of
from instruments.measuring.models import Point, Run, Session
from instruments.measuring.typed import Typed
from instruments.measuring.zeros import set_to_mm
from instruments.procedures.queries import content_of
from instruments.procedures.scales import Scale, scale_of, zero_scale
from labsys.errors import LabError
from labsys.metrology.angle_readings import angle_text
from labsys.metrology.exact import plain
from labsys.metrology.plausibility import implausibilities
from labsys.metrology.readings import ParsedReading
from labsys.metrology.units import Quantity, Unit, from_mm

FAR_MM = Decimal(2)
"""A reading further than this from its point is asked about (common practice, no source)."""
FAR_SECONDS = Decimal(3600)
"""The same for an angle: a degree (common practice, no source)."""
FAR_TIMES = 10
"""So many times the width of its limits away is far, for a series (common practice, no source)."""


class ReadingQuestioned(LabError, ValueError):
    """A reading that is a number and looks odd: it counts once somebody says that the gauge does show it."""

    code: ClassVar[str] = "reading-questioned"
    sentence: ClassVar[str] = "{question}"


def question_reading(point: Point, typed: Typed) -> None:
    """Ask about a reading that looks odd at its point; raises ReadingQuestioned with the first question."""
    session = point.run.session
    content, model = content_of(session.revision), session.gauge.model
    series = content.series_of(point.function)
    if series is None:
        _refuse_odd(typed, Scale(Unit(model.unit), model.resolution), point.nominal_mm, _parts(session))
        if abs(typed.value_mm - point.nominal_mm) > FAR_MM:
            raise ReadingQuestioned(
                question=f"{typed.words} is far from the length of this point. Is it the right block?"
            )
    elif typed.unit:
        _refuse_odd(typed, scale_of(series.code, model, content), point.nominal_mm, 1)
        if not series.order:
            _ask_when_far(point, typed)


def _ask_when_far(point: Point, typed: Typed) -> None:
    """Ask about what lies many times its limits away; where there are none, some millimetres or a degree."""
    ground = ground_of(point.run)
    prospect = prospect_of(point, ground)
    width = prospect.limits.width_mm
    far_mm = _far(typed.unit) if width is None else FAR_TIMES * width
    if abs(typed.value_mm - prospect.held_mm) > far_mm:
        shown = _size(prospect.held_mm, Unit(typed.unit))
        raise ReadingQuestioned(
            question=f"{typed.words} is far from {shown}, what a perfect gauge would show here. Is it what is shown?"
        )


def question_zero(run: Run, typed: Typed) -> None:
    """Ask about a reading of the zero that looks odd; raises ReadingQuestioned."""
    session = run.session
    content, model = content_of(session.revision), session.gauge.model
    scale = zero_scale(model, content)
    by_comparator = content.zero.how == "reference"
    _refuse_odd(typed, scale, None, 1 if by_comparator else _parts(session))
    expected = set_to_mm(model, content)
    if abs(typed.value_mm - expected) > _far(typed.unit):
        what = "zero" if not expected else _size(expected, scale.unit)
        raise ReadingQuestioned(question=f"{typed.words} is far from {what}. {_CLOSED[content.zero.how]}")


_CLOSED = {
    "faces": "Are the faces closed on each other?",
    "low-end": "Are the faces closed on each other, or on the right setting standard?",
    "reference": "Is the comparator on its reference?",
    "plate": "Do blade and base lie on one flat face?",
}


def _far(unit: str) -> Decimal:
    return FAR_SECONDS if unit and Unit(unit).quantity is Quantity.ANGLE else FAR_MM


def _size(value_mm: Decimal, unit: Unit) -> str:
    if unit.quantity is Quantity.ANGLE:
        return angle_text(value_mm, unit)
    return f"{plain(from_mm(value_mm, unit)):f} {unit.value}"


def _parts(session: Session) -> int:
    return content_of(session.revision).readable_parts.get(session.gauge.model.indication, 1)


def _refuse_odd(typed: Typed, scale: Scale, expected_mm: Decimal | None, parts: int) -> None:
    questions = implausibilities(
        ParsedReading(typed.value, Unit(typed.unit), typed.value_mm),
        step=scale.step,
        expected_mm=expected_mm,
        readable_parts=parts,
    )
    if questions:
        raise ReadingQuestioned(question=questions[0].sentence)
