"""Whether a standard may be used at an instant, and the named refusals where it may not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from labsys.errors import LabError
from labsys.laboratory.queries import local_date
from standards.register.models import Calibration, Standard, StandardState
from standards.register.queries.states import state_of


class StandardOverdue(LabError):
    """The calibration of the standard ended before the day of use."""

    code: ClassVar[str] = "standard-overdue"
    sentence: ClassVar[str] = (
        "The calibration of {tag} held through {due_on}; it was to be used on {day}. "
        "Use another standard, or have {tag} calibrated and its certificate accepted first."
    )
    field: ClassVar[str | None] = "standard"


class StandardNotReviewed(LabError):
    """No calibration of the standard had been accepted by then."""

    code: ClassVar[str] = "standard-not-reviewed"
    sentence: ClassVar[str] = (
        "No calibration of {tag} was reviewed and accepted by {day}. "
        "Have its certificate reviewed first, or use another standard."
    )
    field: ClassVar[str | None] = "standard"


class StandardOutOfService(LabError):
    """The standard was not in service at that instant."""

    code: ClassVar[str] = "standard-out-of-service"
    sentence: ClassVar[str] = (
        "{tag} was “{state}” on {day}, not in service. "
        "Use another standard, or return {tag} to service with a verification first."
    )
    field: ClassVar[str | None] = "standard"


@dataclass(frozen=True)
class Usability:
    """Whether a standard may be used: ``code`` is empty when ``ok``, otherwise the code of the refusal."""

    ok: bool
    code: str
    sentence: str
    calibration: Calibration | None
    refusal: LabError | None = None


def calibration_in_force(standard: Standard, at: datetime) -> Calibration | None:
    """Find the newest calibration that had been accepted by ``at``; None when none had."""
    rows = Calibration.objects.filter(standard=standard, accepted_at__lte=at)
    return rows.order_by("-calibrated_on", "-accepted_at", "-pk").first()


def usability(standard: Standard, at: datetime) -> Usability:
    """Tell whether the standard may be used at ``at``: accepted, in service, and through the end of its due day.

    Single elements may stand on an older calibration or have left the set: ``require_value`` answers for those.
    """
    calibration = calibration_in_force(standard, at)
    refusal = _refusal(standard, calibration, at)
    if refusal is not None:
        return Usability(False, refusal.code, str(refusal), calibration, refusal)
    assert calibration is not None  # _refusal has said so
    sentence = f"{standard.tag} may be used: its calibration holds through {calibration.due_on}."
    return Usability(True, "", sentence, calibration)


def require_usable(standard: Standard, at: datetime) -> Calibration:
    """Give the calibration in force at ``at``, or refuse.

    Raises StandardNotReviewed, StandardOutOfService or StandardOverdue.
    """
    found = usability(standard, at)
    if found.refusal is not None:
        raise found.refusal
    assert found.calibration is not None
    return found.calibration


def _refusal(standard: Standard, calibration: Calibration | None, at: datetime) -> LabError | None:
    data: dict[str, Any] = {
        "tag": str(standard.tag),
        "day": f"{local_date(at)}",
        "subject": f"standard:{standard.pk}",
    }
    state = state_of(standard, at)
    if calibration is None and state in ("", StandardState.State.NEW, StandardState.State.IN_SERVICE):
        return StandardNotReviewed(**data)
    if state != StandardState.State.IN_SERVICE:
        label = StandardState.State(state).label if state else "not registered yet"
        return StandardOutOfService(state=label, **data)
    if calibration is not None and local_date(at) > calibration.due_on:
        return StandardOverdue(due_on=f"{calibration.due_on}", **data)
    return None
