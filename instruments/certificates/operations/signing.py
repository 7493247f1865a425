"""Signing off: one act that approves, numbers, freezes the document, records the calibration and owes the file."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import ClassVar

from django.db import transaction

from instruments.certificates.access import SIGN_CERTIFICATES
from instruments.certificates.chains import require_unbroken_chains
from instruments.certificates.document import Document, dump, missing_items
from instruments.certificates.gathering import Issue, Sources, compose
from instruments.certificates.models import Certificate
from instruments.certificates.operations.aftermath import hand_back, record_event, restrict_unmeasured
from instruments.certificates.operations.issuing import RENDER, wake_renderer
from instruments.certificates.operations.numbers import take_number
from instruments.certificates.printing import require_printable
from instruments.certificates.queries import verification_url
from instruments.measuring.models import Submission
from instruments.measuring.operations import approve
from instruments.recall.queries import PASSING
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person, Signature
from labsys.accounts.operations import SignInProof, sign
from labsys.errors import LabError
from labsys.jobs.owed import owe
from labsys.journal.door import act, hash_of, note
from labsys.journal.roles import require
from labsys.laboratory.models import opaque_code


class IncompleteCertificate(LabError):
    """A mandatory item is missing (17025, 7.8.2.1 and 7.8.4.1), or something stands there that may not."""

    code: ClassVar[str] = "incomplete-certificate"
    sentence: ClassVar[str] = (
        "The certificate would be incomplete, so nothing was signed. Missing or wrong: {items}. "
        "Complete the records it is made from, then sign again."
    )


@act("certificates.sign-off")
def sign_off(*, submission: Submission, proof: SignInProof, by: Person, now: datetime) -> Certificate:
    """Approve a submission and issue its certificate: number, frozen text and calibration event in one transaction.

    The authorisation is asked for at this moment, for the gauge's family. Raises NotAuthorised, IncompleteCertificate,
    SeriesNotConfirmed, ChainBroken, NoLaboratoryDetails, ResultNotReproduced, SignNotInType, and what ``approve``
    raises (OwnWorkReviewed, NothingToReview, RecordChanged, ProofTooOld).
    """
    require(by, SIGN_CERTIFICATES)
    gauge = submission.session.gauge
    require_authorised(by, Activity.AUTHORISE, gauge.model.family, now)
    approve(submission=submission, proof=proof, by=by, now=now)
    require_unbroken_chains(submission.session)
    sources = Sources(submission)
    outcome = sources.outcome
    event = record_event(submission, outcome, by, now)
    restrict_unmeasured(submission, outcome, by, now)
    hand_back(submission, event, by, now)
    code = opaque_code()
    due_on = event.due_on if event.as_left in PASSING else None
    issue = Issue(by, now, due_on, code, verification_url(code))
    certificate = _number(submission, compose(sources, issue), proof, by, now)
    owe(RENDER, f"certificate:{certificate.pk}", now)
    transaction.on_commit(wake_renderer, robust=True)
    return certificate


def _number(
    submission: Submission, draft: Document, proof: SignInProof, by: Person, now: datetime
) -> Certificate:
    """Take the number last, so that the series is locked briefly, and freeze the text with it."""
    document = replace(draft, number=take_number())
    items = missing_items(document)
    if items:
        raise IncompleteCertificate(items="; ".join(items), subject=f"submission:{submission.pk}")
    require_printable(document)
    text = dump(document)
    signature = sign(
        meaning=Signature.Meaning.AUTHORISED,
        subject=f"submission:{submission.pk}",
        record_sha256=hash_of(text),
        proof=proof,
        by=by,
        now=now,
    )
    row = Certificate.objects.create(
        number=document.number,
        code=document.code,
        session_id=submission.session_id,
        submission=submission,
        document=text,
        document_sha256=hash_of(text),
        signature=signature,
        numbered_at=now,
    )
    note(
        f"certificate:{row.pk}",
        after={
            "number": row.number,
            "session": submission.session_id,
            "document_sha256": row.document_sha256,
            "signature": signature.pk,
            "state": "numbered",
        },
    )
    return row
