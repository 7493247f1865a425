"""The gate before every act that adds to a session: only an open or returned one takes anything."""

from __future__ import annotations

from typing import ClassVar

from instruments.measuring.models import Session
from labsys.errors import LabError


class SessionNotOpen(LabError):
    """What was handed in or decided is not changed any more."""

    code: ClassVar[str] = "session-not-open"
    sentence: ClassVar[str] = "Session {session} is {state}: nothing can be added to it. {next_step}"


class ReasonMissing(LabError, ValueError):
    """A decision like this one is given with a reason."""

    code: ClassVar[str] = "reason-missing"
    sentence: ClassVar[str] = "Say why: {what} needs a reason."
    field: ClassVar[str | None] = "reason"


NEXT_STEPS = {
    Session.State.SUBMITTED: "Ask the reviewer to return it first.",
    Session.State.APPROVED: "Open a new session for new readings.",
    Session.State.VOID: "Open a new session.",
}


def require_open(session: Session) -> None:
    """Refuse unless readings may still be added: the session is open, or was returned."""
    state = Session.State(session.state)
    if state not in (Session.State.OPEN, Session.State.RETURNED):
        raise SessionNotOpen(session=session.pk, state=state.label, next_step=NEXT_STEPS[state])


def require_reason(reason: str, what: str) -> None:
    """Refuse what was decided without saying why; ``what`` names it (returning a submission)."""
    if not reason.strip():
        raise ReasonMissing(what=what)
