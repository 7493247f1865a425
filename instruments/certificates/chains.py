"""The chains that a session's results hang on: each calibration used, checked at the moments of its use (17025, 6.5).

Lives here: reads and the refusal. What a chain is, and what breaks it, is the standards' own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from instruments.measuring.models import PointReference, Reading, Run, Session
from standards.register.models import Calibration, ElementValue
from standards.traceability.queries import chain_of
from standards.traceability.queries.chain import Node, require_unbroken


@dataclass(frozen=True)
class Use:
    """What one run used: the element values, and when the first and the last reading was taken with them."""

    values: tuple[ElementValue, ...]
    first_at: datetime
    last_at: datetime

    @property
    def calibrations(self) -> tuple[Calibration, ...]:
        """Give the calibrations that the values came from, each once."""
        return tuple({value.calibration_id: value.calibration for value in self.values}.values())

    def of(self, calibration: Calibration) -> tuple[ElementValue, ...]:
        """Give the values that one calibration gave."""
        return tuple(value for value in self.values if value.calibration_id == calibration.pk)


def uses_of(session: Session) -> Iterator[Use]:
    """Give what each run of a session used; nothing for a run without readings."""
    for run in session.runs.order_by("opened_at", "pk"):
        found = _use(run)
        if found is not None:
            yield found


def _use(run: Run) -> Use | None:
    rows = PointReference.objects.filter(point__run=run, point__void=None, point__readings__isnull=False)
    rows = rows.select_related("element_value__calibration__standard__tag", "element_value__element")
    values = {row.element_value_id: row.element_value for row in rows.order_by("pk")}
    taken = Reading.objects.filter(point__run=run, point__void=None)
    times = list(taken.order_by().values_list("measured_at", flat=True))
    return Use(tuple(values.values()), min(times), max(times)) if values and times else None


def require_unbroken_chains(session: Session) -> None:
    """Refuse where a chain doesn't hold at the first or the last reading taken with it; raises ChainBroken."""
    for use in uses_of(session):
        for at in (use.first_at, use.last_at):
            require_unbroken(use.calibrations, at, use.values)


def chains_of(session: Session) -> tuple[Node, ...]:
    """Give the chain of every calibration used, as it was relied on at its last use, with what is on record now."""
    found: dict[int, Node] = {}
    for use in uses_of(session):
        for calibration in use.calibrations:
            found[calibration.pk] = chain_of(calibration, use.last_at, use.of(calibration))
    return tuple(found.values())
