"""Gives the standards of the tests' laboratory certificates from an accredited issuer, through the acts."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

from standards.register.models import Calibration, Standard
from standards.register.operations import ValueData
from standards.traceability.checklist import QUESTIONS, Answer
from standards.traceability.files import ReceivedFile
from standards.traceability.models import Issuer
from standards.traceability.operations import (
    AccreditationData,
    CertificateData,
    receive_certificate,
    record_accreditation,
    register_issuer,
    review_certificate,
)
from tests.laboratory import Lab, proof

D = Decimal
RECEIVED = datetime(2025, 2, 3, 9, 0, tzinfo=UTC)
CALIBRATED_ON, ISSUED_ON = date(2025, 1, 20), date(2025, 1, 24)
SCAN = b"%PDF-1.7\nan invented certificate\n%%EOF\n"


def trace(lab: Lab) -> dict[str, Calibration]:
    """Put a certificate on file for each standard and accept it; gives the calibrations by tag."""
    issuer = register_issuer(
        name="Invented accredited laboratory", kind="accredited", by=lab.manager, now=RECEIVED
    )
    scope = AccreditationData(
        body="Invented accreditation body",
        number="0042",
        quantity="gauge-block",
        range_low_mm=D("0.5"),
        range_high_mm=D(200),
        cmc_constant_mm=D("0.00005"),
        cmc_per_length=D(0),
        valid_from=datetime(2020, 1, 1, tzinfo=UTC),
    )
    record_accreditation(issuer=issuer, data=scope, by=lab.manager, now=RECEIVED)
    return {str(one.tag): _certified(one, issuer, lab) for one in (lab.blocks, lab.rings)}


def _certified(standard: Standard, issuer: Issuer, lab: Lab) -> Calibration:
    data = CertificateData(
        issuer=issuer,
        number=f"KB-{standard.tag}/25",
        calibrated_on=CALIBRATED_ON,
        issued_on=ISSUED_ON,
        quantity="gauge-block",
        route="2",
        serial_on_certificate=standard.serial,
        conditions="20.0 °C ± 0.3 K",
        accreditation_mark=True,
        stated_traceability="national institute",
    )
    received = receive_certificate(
        standard=standard,
        data=data,
        values=tuple(ValueData(one, D("0.0001"), D("0.0001"), D(2)) for one in standard.elements.all()),
        file=ReceivedFile("scan.pdf", SCAN),
        relies_on=(),
        by=lab.manager,
        now=RECEIVED,
    )
    review_certificate(
        certificate=received,
        answers={question.code: Answer(True, "seen") for question in QUESTIONS},
        decision="accept",
        reason="",
        proof=proof(lab.reviewer, RECEIVED),
        by=lab.reviewer,
        now=RECEIVED,
    )
    return received.calibration
