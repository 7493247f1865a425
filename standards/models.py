"""Index of the tables of standards; each stands in its topic."""

from standards.climate.models import LogReading, LogUpload
from standards.register.models import (
    Calibration,
    Element,
    ElementState,
    ElementValue,
    Standard,
    StandardState,
)
from standards.traceability.models import (
    Accreditation,
    CertificateReceived,
    CertificateReview,
    Issuer,
    Reliance,
)

__all__ = [
    "Accreditation",
    "Calibration",
    "CertificateReceived",
    "CertificateReview",
    "Element",
    "ElementState",
    "ElementValue",
    "Issuer",
    "LogReading",
    "LogUpload",
    "Reliance",
    "Standard",
    "StandardState",
]
