"""What is asked about a reading before it counts: it is a number, and it looks odd.

The value is set aside with the question; sent again as confirmed, it counts.
"""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from instruments.measuring.models import Point, Session
from instruments.procedures.queries import content_of
from labsys.errors import LabError
from labsys.metrology.plausibility import implausibilities
from labsys.metrology.readings import ParsedReading

FAR_MM = Decimal(2)
"""A reading further than this from its point is asked about (common practice, no source)."""


class ReadingQuestioned(LabError, ValueError):
    """A reading that is a number and looks odd: it counts once somebody says that the gauge does show it."""

    code: ClassVar[str] = "reading-questioned"
    sentence: ClassVar[str] = "{question}"


def question_reading(session: Session, point: Point, parsed: ParsedReading) -> None:
    """Ask about a reading that looks odd at its point; raises ReadingQuestioned with the first question."""
    _refuse_odd(session, parsed, point.nominal_mm)
    if abs(parsed.value_mm - point.nominal_mm) > FAR_MM:
        raise ReadingQuestioned(
            question=f"{parsed.value:f} {parsed.unit} is far from the length of this point. Is it the right block?"
        )


def question_zero(session: Session, parsed: ParsedReading) -> None:
    """Ask about a reading of the closed faces that looks odd; raises ReadingQuestioned."""
    _refuse_odd(session, parsed, None)
    if abs(parsed.value_mm) > FAR_MM:
        raise ReadingQuestioned(
            question=f"{parsed.value:f} {parsed.unit} is far from zero. Are the faces closed on each other?"
        )


def _refuse_odd(session: Session, parsed: ParsedReading, expected_mm: Decimal | None) -> None:
    model = session.gauge.model
    questions = implausibilities(
        parsed,
        step=model.resolution,
        expected_mm=expected_mm,
        readable_parts=content_of(session.revision).readable_parts.get(model.indication, 1),
    )
    if questions:
        raise ReadingQuestioned(question=questions[0].sentence)
