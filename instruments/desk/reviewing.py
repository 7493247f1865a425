"""What a reviewer has before them: a submission with its results, what was observed, the chains it hangs on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from instruments.certificates.access import SIGN_CERTIFICATES
from instruments.certificates.chains import chains_of
from instruments.measuring.leading import leads_of
from instruments.measuring.models import Session, Submission
from instruments.measuring.operations.reviewing import works_with_one_signature
from instruments.measuring.queries import (
    Asking,
    asking_for_deviations,
    outcome_of,
    performers,
    performers_of,
    waiting_for_review,
)
from instruments.measuring.showing.observed import observed_of
from instruments.measuring.showing.results import stages_of
from instruments.measuring.showing.summary import ground_shown, stages
from labsys.accounts.models import Person
from standards.traceability.queries import Fault, Node, faults_of


@dataclass(frozen=True)
class Waiting:
    """A submission that waits; ``is_own``: this person measured in it and can't review it."""

    submission: Submission
    is_own: bool


@dataclass(frozen=True)
class Chain:
    """The chain of one calibration used, and what is wrong with it."""

    node: Node
    faults: tuple[Fault, ...]

    @property
    def is_broken(self) -> bool:
        """Say whether something blocks."""
        return any(fault.level == "block" for fault in self.faults)


def waiting_for(person: Person, at: datetime) -> tuple[Waiting, ...]:
    """List what waits for a signature, longest first, and say which of it is the person's own work."""
    rows, alone = list(waiting_for_review()), works_with_one_signature(at)
    people = performers_of(row.session for row in rows)
    return tuple(Waiting(row, not alone and person.pk in people[row.session_id]) for row in rows)


def asking() -> tuple[Asking, ...]:
    """List the open sessions that ask for a deviation to be accepted."""
    return asking_for_deviations()


def submission_shown(submission: Submission, person: Person, at: datetime) -> dict[str, Any]:
    """Give everything that a reviewer looks at before signing."""
    session = submission.session
    is_waiting = session.state == Session.State.SUBMITTED and submission.pk == _newest(session)
    is_own = not works_with_one_signature(at) and person.pk in performers(session)
    return {
        **ground_shown(session),
        **observed_of(session),
        "session": session,
        "submission": submission,
        "outcome": outcome_of(submission),
        "shown": stages_of(submission),
        "leads": leads_of(session),
        "stages": stages(session),
        "chains": tuple(Chain(node, faults_of(node)) for node in chains_of(session)),
        "is_waiting": is_waiting,
        "is_own": is_own,
        "may_sign": is_waiting and not is_own and person.has_perm(SIGN_CERTIFICATES),
    }


def _newest(session: Session) -> int | None:
    newest = session.submissions.first()
    return None if newest is None else newest.pk
