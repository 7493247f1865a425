"""Acts of traceability: issuers and their scopes, certificates received, their review, what relies on what."""

from __future__ import annotations

from standards.traceability.operations.issuers import (
    AccreditationData,
    NothingToWithdraw,
    RangeUpsideDown,
    record_accreditation,
    register_issuer,
    withdraw_accreditation,
)
from standards.traceability.operations.receiving import (
    CertificateData,
    CertificateOnFile,
    FileOnRecord,
    IssuedAtAnImpossibleTime,
    RouteDoesNotFit,
    attach_file,
    receive_certificate,
)
from standards.traceability.operations.reliance import (
    CircularChain,
    UpstreamMissing,
    UpstreamNotAccepted,
    rely_on,
    require_upstream,
)
from standards.traceability.operations.reviewing import (
    AcceptanceForbidden,
    AlreadyReviewed,
    AnswerMissing,
    DecisionNeedsReason,
    RemarkMissing,
    review_certificate,
)

__all__ = [
    "AcceptanceForbidden",
    "AccreditationData",
    "AlreadyReviewed",
    "AnswerMissing",
    "CertificateData",
    "CertificateOnFile",
    "CircularChain",
    "DecisionNeedsReason",
    "FileOnRecord",
    "IssuedAtAnImpossibleTime",
    "NothingToWithdraw",
    "RangeUpsideDown",
    "RemarkMissing",
    "RouteDoesNotFit",
    "UpstreamMissing",
    "UpstreamNotAccepted",
    "attach_file",
    "receive_certificate",
    "record_accreditation",
    "register_issuer",
    "rely_on",
    "require_upstream",
    "review_certificate",
    "withdraw_accreditation",
]
