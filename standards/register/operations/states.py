"""Acts on the service state of a standard: out of service, away, and back only with a verification."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from standards.register.access import KEEP_STANDARDS
from standards.register.models import Calibration, Standard, StandardState
from standards.register.queries import calibration_in_force, end_of_day, state_of

State = StandardState.State

REACHABLE: dict[str, frozenset[str]] = {
    State.NEW: frozenset({State.AWAY, State.OUT_OF_SERVICE, State.SCRAPPED}),
    State.IN_SERVICE: frozenset({State.AWAY, State.OUT_OF_SERVICE, State.SCRAPPED}),
    State.AWAY: frozenset({State.OUT_OF_SERVICE, State.SCRAPPED}),
    State.OUT_OF_SERVICE: frozenset({State.AWAY, State.SCRAPPED}),
    State.SCRAPPED: frozenset(),
}
"""Where a change of state may lead. Into service leads only a verification, and a scrapped standard stays so."""


class ReasonMissing(LabError, ValueError):
    """A change of state without its reason."""

    code: ClassVar[str] = "reason-missing"
    sentence: ClassVar[str] = (
        "{what} needs its reason, since the record is read years later. Write one sentence."
    )
    field: ClassVar[str | None] = "reason"


class StateNotReachable(LabError, ValueError):
    """The standard can't go from the state it is in to the one that was asked for."""

    code: ClassVar[str] = "state-not-reachable"
    sentence: ClassVar[str] = (
        "{tag} is “{found}”, and from there it can't become “{wanted}”. Possible: {possible}."
    )
    field: ClassVar[str | None] = "state"


class ReturnNeedsVerification(LabError):
    """A standard was to go into service by a mere change of state (17025, 6.4.4)."""

    code: ClassVar[str] = "return-needs-verification"
    sentence: ClassVar[str] = (
        "{tag} goes into service only with a verification: what was checked, against what, with what result. "
        "Use “return to service” and write it down."
    )
    field: ClassVar[str | None] = "state"


class NothingToReturnWith(LabError):
    """No accepted calibration holds, so there is nothing to return to service with."""

    code: ClassVar[str] = "nothing-to-return-with"
    sentence: ClassVar[str] = (
        "{tag} has no accepted calibration that still holds. Have its certificate received and accepted first."
    )
    field: ClassVar[str | None] = "verification"


@act("register.change-state")
def change_state(*, standard: Standard, state: str, reason: str, by: Acting, now: datetime) -> StandardState:
    """Take a standard out of service, send it away or scrap it, with the reason.

    Raises ReturnNeedsVerification for a way into service, StateNotReachable and ReasonMissing.
    """
    require(by, KEEP_STANDARDS)
    found = state_of(standard, now)
    if state == State.IN_SERVICE:
        raise ReturnNeedsVerification(tag=str(standard.tag), subject=f"standard:{standard.pk}")
    if state not in REACHABLE.get(found, frozenset()):
        raise StateNotReachable(tag=str(standard.tag), **_words(found, state))
    return _enter(standard, state, _reason(reason, "A change of state"), now)


@act("register.return-to-service")
def return_to_service(*, standard: Standard, verification: str, by: Acting, now: datetime) -> StandardState:
    """Put a standard back into service after somebody verified it, in writing (17025, 6.4.4).

    Raises ReasonMissing without the verification, StateNotReachable where it is in service, new or scrapped, and
    NothingToReturnWith where no accepted calibration holds through the end of today.
    """
    require(by, KEEP_STANDARDS)
    found = state_of(standard, now)
    if found not in (State.AWAY, State.OUT_OF_SERVICE):
        raise StateNotReachable(tag=str(standard.tag), **_words(found, State.IN_SERVICE))
    calibration = calibration_in_force(standard, now)
    if calibration is None or not _holds(calibration, now):
        raise NothingToReturnWith(tag=str(standard.tag), subject=f"standard:{standard.pk}")
    return _enter(standard, State.IN_SERVICE, _reason(verification, "A return to service"), now)


def enter_service(*, standard: Standard, reason: str, now: datetime) -> None:
    """Put a new standard into service; the accepting review is its verification. Only from inside an act."""
    if state_of(standard, now) == State.NEW:
        _enter(standard, State.IN_SERVICE, reason, now)


def _enter(standard: Standard, state: str, reason: str, now: datetime) -> StandardState:
    before = state_of(standard, now)
    row = StandardState.objects.create(
        standard=standard, state=state, reason=reason, valid_from=now, recorded_at=now
    )
    note(f"standard:{standard.pk}", reason=reason, before={"state": before}, after={"state": str(state)})
    return row


def _holds(calibration: Calibration, now: datetime) -> bool:
    return now <= end_of_day(calibration.due_on)


def _reason(text: str, what: str) -> str:
    cleaned = text.strip()
    if not cleaned:
        raise ReasonMissing(what=what)
    return cleaned


def _words(found: str, wanted: str) -> dict[str, str]:
    labels = dict(State.choices)
    possible = [labels[state] for state in State.values if state in REACHABLE.get(found, frozenset())]
    return {
        "found": labels.get(found, "not registered yet"),
        "wanted": labels.get(wanted, wanted),
        "possible": ", ".join(possible) or "nothing",
    }
