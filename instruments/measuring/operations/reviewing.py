"""A second person looks: approves with a signature, returns with a reason, accepts a deviation, strikes a reading."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from instruments.inventory.models import CustodyEvent
from instruments.inventory.operations import record_custody
from instruments.inventory.queries import received_at
from instruments.measuring.access import REVIEW
from instruments.measuring.models import Deviation, Reading, Review, Session, Strike, Submission
from instruments.measuring.open_items import open_items
from instruments.measuring.operations.gate import ReasonMissing, require_open, require_reason
from instruments.measuring.queries import performers
from instruments.measuring.record import record_of
from instruments.recall.operations import refresh_standing
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person, Signature
from labsys.accounts.operations import SignInProof, sign
from labsys.errors import LabError
from labsys.journal.door import act, hash_of, note
from labsys.journal.roles import require
from labsys.laboratory.queries import details_in_force


class OwnWorkReviewed(LabError, PermissionError):
    """Whoever measured may not review (refusal 2)."""

    code: ClassVar[str] = "own-work-reviewed"
    sentence: ClassVar[str] = (
        "{name} measured in this session, so another authorised person must review it. "
        "A laboratory of one person may decide otherwise, on record, with its reason."
    )


class NothingToReview(LabError):
    """Only the newest submission of a submitted session is reviewed, once."""

    code: ClassVar[str] = "nothing-to-review"
    sentence: ClassVar[str] = "Session {session} is {state}: there is nothing to review in it now."


class RecordChanged(LabError):
    """What stands in the tables is no longer what was handed in."""

    code: ClassVar[str] = "record-changed"
    sentence: ClassVar[str] = (
        "The record of session {session} no longer matches what was handed in. Nothing was signed. "
        "Tell the administrator: the database was changed outside the program."
    )


class NoSuchOpenRule(LabError, ValueError):
    """Only an open rule that may be deviated from is accepted."""

    code: ClassVar[str] = "no-such-open-rule"
    sentence: ClassVar[str] = "Session {session} has no open rule “{rule}” that a reviewer could accept."


@act("measuring.approve")
def approve(*, submission: Submission, proof: SignInProof, by: Person, now: datetime) -> Review:
    """Approve a submission with a signature over its record; an inner act of signing off the certificate."""
    session = _under_review(submission, by, now)
    if hash_of(record_of(session)) != submission.record_sha256:
        raise RecordChanged(session=session.pk)
    signature = sign(
        meaning=Signature.Meaning.REVIEWED,
        subject=f"submission:{submission.pk}",
        record_sha256=submission.record_sha256,
        proof=proof,
        by=by,
        now=now,
    )
    review = Review.objects.create(
        submission=submission,
        decision=Review.Decision.APPROVED,
        reviewer=by,
        reviewed_at=now,
        signature=signature,
    )
    session.state, session.closed_at = Session.State.APPROVED, now
    session.save(update_fields=["state", "closed_at"])
    note(
        f"session:{session.pk}",
        before={"state": "submitted"},
        after={"state": "approved", "review": review.pk},
    )
    return review


@act("measuring.return-submission")
def return_submission(*, submission: Submission, reason: str, by: Person, now: datetime) -> Review:
    """Give a submission back to the bench with a reason; the session takes readings again."""
    session = _under_review(submission, by, now)
    require_reason(reason, "returning a submission")
    review = Review.objects.create(
        submission=submission, decision=Review.Decision.RETURNED, reason=reason, reviewer=by, reviewed_at=now
    )
    session.state = Session.State.RETURNED
    session.save(update_fields=["state"])
    if received_at(session.gauge) is not None:
        record_custody(
            gauge=session.gauge, kind=CustodyEvent.Kind.ON_BENCH, place=session.place, at=now, by=by, now=now
        )
    refresh_standing(session.gauge, now)
    note(f"session:{session.pk}", reason=reason, before={"state": "submitted"}, after={"state": "returned"})
    return review


@act("measuring.accept-deviation")
def accept_deviation(
    *, session: Session, rule: str, reason: str, owner_consent: str, by: Person, now: datetime
) -> Deviation:
    """Accept that a rule stays open, with a reason and the owner's consent where it was asked for."""
    require(by, REVIEW)
    require_authorised(by, Activity.REVIEW, session.gauge.model.family, now)
    require_open(session)
    _refuse_own_work(session, by, now)
    require_reason(reason, "accepting a deviation")
    item = next((item for item in open_items(session) if item.code == rule and item.deviable), None)
    if item is None:
        raise NoSuchOpenRule(session=session.pk, rule=rule)
    row = Deviation.objects.create(
        session=session,
        rule=rule,
        sentence=item.sentence,
        reason=reason,
        owner_consent=owner_consent,
        accepted_by=by,
        at=now,
    )
    note(f"session:{session.pk}", reason=reason, after={"deviation": rule, "owner_consent": owner_consent})
    return row


@act("measuring.strike-for-review")
def strike_for_review(*, reading: Reading, reason: str, remark: str, by: Person, now: datetime) -> Strike:
    """Strike a reading that is out of tolerance; only a reviewer who did not take it may."""
    require(by, REVIEW)
    session = reading.point.run.session
    require_authorised(by, Activity.REVIEW, session.gauge.model.family, now)
    require_open(session)
    if reading.read_by_id == by.pk:
        raise OwnWorkReviewed(name=by.name)
    if reason not in Strike.Reason.values or not remark.strip():
        raise ReasonMissing(what="striking a reading that is out of tolerance")
    row = Strike.objects.create(reading=reading, reason=reason, note=remark, by=by, at=now)
    note(
        f"session:{session.pk}",
        reason=remark,
        after={"struck": reading.pk, "raw": reading.raw, "reason": reason},
    )
    return row


def _under_review(submission: Submission, by: Person, now: datetime) -> Session:
    require(by, REVIEW)
    session = Session.objects.select_for_update().get(pk=submission.session_id)
    require_authorised(by, Activity.REVIEW, session.gauge.model.family, now)
    newest = session.submissions.first()
    if session.state != Session.State.SUBMITTED or newest is None or newest.pk != submission.pk:
        raise NothingToReview(session=session.pk, state=session.get_state_display())
    _refuse_own_work(session, by, now)
    return session


def _refuse_own_work(session: Session, by: Person, now: datetime) -> None:
    if works_with_one_signature(now):
        return
    if by.pk in performers(session):
        raise OwnWorkReviewed(name=by.name)


def works_with_one_signature(now: datetime) -> bool:
    """Say whether the laboratory decided, on record, to work without a second signature."""
    details = details_in_force(now)
    return details is not None and not details.second_signature
