"""The act of reviewing a certificate on receipt: seven answers, one decision, a signature, and its values hold."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, ClassVar

from labsys.accounts.models import Person, Signature
from labsys.accounts.operations import SignInProof, sign
from labsys.errors import LabError
from labsys.journal.door import act, canonical, hash_of, note
from labsys.journal.roles import require
from standards.register.access import ACCEPT_CALIBRATIONS
from standards.register.operations import mark_accepted, mark_rejected
from standards.traceability.checklist import BY_CODE, QUESTIONS, Answer
from standards.traceability.models import CertificateReceived, CertificateReview
from standards.traceability.queries import review_faults

Decision = CertificateReview.Decision


class AlreadyReviewed(LabError):
    """A certificate is reviewed once."""

    code: ClassVar[str] = "already-reviewed"
    sentence: ClassVar[str] = (
        "Certificate {number} was {decision} by {name} before. A decision stands; a corrected certificate is received "
        "as a new one."
    )


class AnswerMissing(LabError, ValueError):
    """A question of the review without a yes or no."""

    code: ClassVar[str] = "answer-missing"
    sentence: ClassVar[str] = "Not answered yet: {questions}. Answer each with yes or no."

    @property
    def question(self) -> str:
        """Name the first question that is open."""
        return str(self.data["codes"][0])


class RemarkMissing(LabError, ValueError):
    """A no that says nothing, on a certificate that is to be accepted all the same."""

    code: ClassVar[str] = "remark-missing"
    sentence: ClassVar[str] = (
        "“{question}” was answered no. To accept the certificate all the same, say why that does no harm."
    )

    @property
    def question(self) -> str:
        """Name the question."""
        return str(self.data["question_code"])


class AcceptanceForbidden(LabError):
    """Something forbids accepting: a no to what must be, or a fault that blocks."""

    code: ClassVar[str] = "acceptance-forbidden"
    sentence: ClassVar[str] = (
        "Certificate {number} can't be accepted: {why} Mend that first, or reject the certificate with the reason."
    )
    field: ClassVar[str | None] = "decision"


class DecisionNeedsReason(LabError, ValueError):
    """A rejection without its reason."""

    code: ClassVar[str] = "decision-needs-reason"
    sentence: ClassVar[str] = "A rejection needs its reason: the issuer will ask for it. Write one sentence."
    field: ClassVar[str | None] = "reason"


@act("traceability.review-certificate")
def review_certificate(
    *,
    certificate: CertificateReceived,
    answers: Mapping[str, Answer],
    decision: str,
    reason: str,
    proof: SignInProof,
    by: Person,
    now: datetime,
) -> CertificateReview:
    """Accept or reject a certificate and sign that; accepted values may be used from now on.

    Raises AlreadyReviewed, AnswerMissing, RemarkMissing, AcceptanceForbidden (a no to a must, or blocking faults of
    the certificate or of the chain above it), DecisionNeedsReason, ProofTooOld.
    """
    require(by, ACCEPT_CALIBRATIONS)
    row = CertificateReceived.objects.select_for_update().get(pk=certificate.pk)
    _refuse_second(row)
    _require_answers(answers)
    accepts = decision == Decision.ACCEPT
    if accepts:
        _refuse_acceptance(row, answers, now)
    elif not reason.strip():
        raise DecisionNeedsReason(subject=f"certificate-received:{row.pk}")
    record = _record(row, answers, str(Decision(decision)), reason.strip())
    meaning = Signature.Meaning.ACCEPTED if accepts else Signature.Meaning.REVIEWED
    subject, sha256 = f"certificate-received:{row.pk}", hash_of(canonical(record))
    signature = sign(meaning=meaning, subject=subject, record_sha256=sha256, proof=proof, by=by, now=now)
    review = CertificateReview.objects.create(
        certificate=row,
        decision=decision,
        answers=record["answers"],
        reason=reason.strip(),
        reviewer=by,
        reviewed_at=now,
        signature=signature,
    )
    decide = mark_accepted if accepts else mark_rejected
    said = reason.strip() or f"Certificate {row.number} was reviewed and accepted."
    decide(calibration=row.calibration, by=by, now=now, reason=said)
    note(
        subject,
        reason=reason.strip(),
        after={"decision": str(decision), "review": review.pk, "record_sha256": sha256},
    )
    return review


def _refuse_second(row: CertificateReceived) -> None:
    review = CertificateReview.objects.filter(certificate=row).select_related("reviewer").first()
    if review:
        raise AlreadyReviewed(
            number=row.number,
            decision=review.get_decision_display(),
            name=review.reviewer.name,
            subject=f"certificate-received:{row.pk}",
        )


def _require_answers(answers: Mapping[str, Answer]) -> None:
    open_ones = [question for question in QUESTIONS if question.code not in answers]
    if open_ones:
        raise AnswerMissing(
            questions=", ".join(question.title.lower() for question in open_ones),
            codes=[question.code for question in open_ones],
        )


def _refuse_acceptance(row: CertificateReceived, answers: Mapping[str, Answer], now: datetime) -> None:
    subject = f"certificate-received:{row.pk}"
    for question in QUESTIONS:
        answer = answers[question.code]
        if answer.yes:
            continue
        if question.must:
            why = f"“{question.title}” was answered no."
            raise AcceptanceForbidden(number=row.number, why=why, faults=[], subject=subject)
        if not answer.remark.strip():
            raise RemarkMissing(question=question.title, question_code=question.code)
    faults = review_faults(row.calibration, now)
    # Evidence for an issuer outside the arrangements is approved by this very review, in its remark.
    if _approves_evidence(answers):
        faults = tuple(fault for fault in faults if not _is_own_evidence(fault, row))
    if faults:
        why = " ".join(fault.sentence for fault in faults)
        codes = [fault.code for fault in faults]
        raise AcceptanceForbidden(number=row.number, why=why, faults=codes, subject=subject)


def _approves_evidence(answers: Mapping[str, Answer]) -> bool:
    answer = answers["traceability"]
    return answer.yes and bool(answer.remark.strip())


def _is_own_evidence(fault: Any, row: CertificateReceived) -> bool:
    return bool(fault.code == "F10" and fault.subject == f"calibration:{row.calibration_id}")


def _record(
    row: CertificateReceived, answers: Mapping[str, Answer], decision: str, reason: str
) -> dict[str, Any]:
    """Give what the signature stands for: the certificate with its file and values, the answers, the decision."""
    values = row.calibration.values.select_related("element").order_by("element__nominal_mm", "element_id")
    return {
        "format": 1,
        "certificate": {"issuer": row.issuer.name, "number": row.number, "file_sha256": row.file_sha256},
        "standard": str(row.calibration.standard.tag),
        "calibrated_on": row.calibration.calibrated_on,
        "values": [
            {
                "element": value.element.label,
                "deviation_mm": value.deviation_mm,
                "U_mm": value.U_mm,
                "k": value.k,
                "limit_mm": value.limit_mm,
            }
            for value in values
        ],
        "answers": {
            code: {"yes": answers[code].yes, "remark": answers[code].remark.strip()} for code in BY_CODE
        },
        "decision": decision,
        "reason": reason,
    }
