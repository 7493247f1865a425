"""Acts on certificates: signing off, issuing the file, confirming numbers."""

from instruments.certificates.operations.exporting import export_evidence
from instruments.certificates.operations.issuing import AlreadyIssued, render
from instruments.certificates.operations.numbers import (
    HighestTooLow,
    SeriesNotConfirmed,
    confirm_series,
    lock_series,
)
from instruments.certificates.operations.signing import IncompleteCertificate, sign_off

__all__ = [
    "AlreadyIssued",
    "HighestTooLow",
    "IncompleteCertificate",
    "SeriesNotConfirmed",
    "confirm_series",
    "export_evidence",
    "lock_series",
    "render",
    "sign_off",
]
