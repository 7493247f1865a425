"""The chain of every standard that a session used must hold at the moment of its use (17025, 6.5)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from instruments.measuring.models import PointReference, Run, Session
from standards.register.models import ElementValue
from standards.traceability.queries.chain import require_unbroken


def require_unbroken_chains(session: Session) -> None:
    """Refuse where a chain doesn't hold at the first or the last reading taken with it; raises ChainBroken."""
    for run in session.runs.order_by("opened_at", "pk"):
        values = _values_used(run)
        calibrations = list({value.calibration_id: value.calibration for value in values}.values())
        for at in _times(run) if calibrations else ():
            require_unbroken(calibrations, at, values)


def _values_used(run: Run) -> list[ElementValue]:
    references = PointReference.objects.filter(
        point__run=run, point__void=None, point__readings__isnull=False
    )
    found = references.select_related("element_value__calibration__standard__tag", "element_value__element")
    return list({row.element_value_id: row.element_value for row in found}.values())


def _times(run: Run) -> Iterable[datetime]:
    """Give the first and the last moment of use."""
    taken = list(run.points.filter(void=None).values_list("readings__measured_at", flat=True))
    known = [at for at in taken if at is not None]
    return (min(known), max(known)) if known else ()
