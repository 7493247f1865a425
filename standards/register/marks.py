"""How a standard looks on a page: field, shape and word of whether it may be used, and of a calibration's review."""

from __future__ import annotations

from dataclasses import dataclass

from labsys.pages import standing
from standards.register.models import Calibration
from standards.register.queries import Usability

_USE, _STOP = standing.mark("use"), standing.mark("do_not_use")
_WAITING = "M6 3h12v2h-1v3l-4 4l4 4v3h1v2h-12v-2h1v-3l4-4l-4-4v-3h-1z"


@dataclass(frozen=True)
class Mark:
    """A state as the template shows it."""

    field: str
    shape: str
    word: str


def of_usability(found: Usability) -> Mark:
    """Mark whether a standard may be used."""
    if found.ok:
        return Mark(_USE.field, _USE.shape, "may be used")
    words = {
        "standard-overdue": "overdue",
        "standard-not-reviewed": "not reviewed",
        "standard-out-of-service": "not in service",
    }
    return Mark(_STOP.field, _STOP.shape, words[found.code])


def of_review(calibration: Calibration) -> Mark:
    """Mark what was decided about a calibration."""
    if calibration.accepted_at:
        return Mark(_USE.field, _USE.shape, "accepted")
    if calibration.rejected_at:
        return Mark(_STOP.field, _STOP.shape, "rejected")
    return Mark("state-plain", _WAITING, "waits for review")
