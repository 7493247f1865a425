"""A chain of three levels: a working set on a reference set, that on a master set, that on an accredited laboratory."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest

from labsys.accounts.models import Person
from labsys.accounts.operations import SignInProof
from standards.register.models import Calibration, Standard
from standards.register.operations import ValueData
from standards.traceability import operations as acts
from standards.traceability.checklist import QUESTIONS, Answer
from standards.traceability.files import ReceivedFile
from standards.traceability.models import Accreditation, CertificateReceived, CertificateReview, Issuer
from standards.traceability.operations import AccreditationData, CertificateData
from tests.standards.conftest import REGISTERED, at, values

D = Decimal
PDF = ReceivedFile("scan.pdf", b"%PDF-1.4\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n")
RECEIVED, REVIEWED = at("2024-02-05"), at("2024-02-06")
ALL_YES = {question.code: Answer(True) for question in QUESTIONS}


@pytest.fixture
def laboratory(manager: Person) -> Issuer:
    return acts.register_issuer(
        name="Northern calibration laboratory", kind="accredited", by=manager, now=REGISTERED
    )


@pytest.fixture
def scope_data() -> AccreditationData:
    return AccreditationData(
        body="National accreditation body",
        number="K-0815",
        quantity="gauge-block",
        range_low_mm=D("0.5"),
        range_high_mm=D("100"),
        cmc_constant_mm=D("0.00005"),
        cmc_per_length=D("0.0000005"),
        valid_from=at("2020-01-01"),
    )


@pytest.fixture
def scope(laboratory: Issuer, scope_data: AccreditationData, manager: Person) -> Accreditation:
    return acts.record_accreditation(issuer=laboratory, data=scope_data, by=manager, now=REGISTERED)


@pytest.fixture
def certificate_data(laboratory: Issuer) -> CertificateData:
    return CertificateData(
        issuer=laboratory,
        number="N-1",
        calibrated_on=date(2024, 2, 1),
        issued_on=date(2024, 2, 3),
        quantity="gauge-block",
        route="2",
        serial_on_certificate="4711",
        conditions="(20.0 ± 0.2) °C, by comparison",
        accreditation_mark=True,
        stated_traceability="to the national institute",
    )


@pytest.fixture
def receive(certificate_data: CertificateData, technician: Person) -> Callable[..., CertificateReceived]:
    def make(
        standard: Standard,
        *,
        given: tuple[ValueData, ...] | None = None,
        file: ReceivedFile | None = PDF,
        relies_on: tuple[Calibration, ...] = (),
        now: datetime = RECEIVED,
        **changes: Any,
    ) -> CertificateReceived:
        return acts.receive_certificate(
            standard=standard,
            data=replace(certificate_data, **changes),
            values=values(standard) if given is None else given,
            file=file,
            relies_on=relies_on,
            by=technician,
            now=now,
        )

    return make


@pytest.fixture
def review(reviewer: Person) -> Callable[..., CertificateReview]:
    def make(
        certificate: CertificateReceived,
        decision: str = "accept",
        *,
        answers: dict[str, Answer] | None = None,
        reason: str = "",
        now: datetime = REVIEWED,
    ) -> CertificateReview:
        return acts.review_certificate(
            certificate=certificate,
            answers=ALL_YES if answers is None else answers,
            decision=decision,
            reason=reason,
            proof=SignInProof(reviewer.pk, now),
            by=reviewer,
            now=now,
        )

    return make


@pytest.fixture
def master(
    scope: Accreditation,
    blocks: Standard,
    receive: Callable[..., CertificateReceived],
    review: Callable[..., CertificateReview],
) -> Calibration:
    """The master set GB-01, calibrated on 2024-02-01 by the accredited laboratory, U = 0.1 µm."""
    certificate = receive(blocks)
    review(certificate)
    return Calibration.objects.get(pk=certificate.calibration_id)


@pytest.fixture
def in_house(
    make_standard: Callable[..., Standard], calibrate: Callable[..., Calibration], technician: Person
) -> Callable[..., Calibration]:
    """Make a standard that was calibrated here, relying on others."""

    def make(tag: str, on: str, *upstream: Calibration, u: str = "0.0002", **changes: Any) -> Calibration:
        standard = Standard.objects.filter(tag__text=tag).first() or make_standard(tag, serial=tag)
        row = calibrate(standard, on, u=u, **changes)
        acts.rely_on(calibration=row, upstream=upstream, by=technician, now=at(on, 14))
        return row

    return make


@pytest.fixture
def reference(master: Calibration, in_house: Callable[..., Calibration]) -> Calibration:
    """The reference set GB-02, calibrated here on 2024-05-01 on the master set, U = 0.2 µm."""
    return in_house("GB-02", "2024-05-01", master)


@pytest.fixture
def working(reference: Calibration, in_house: Callable[..., Calibration]) -> Calibration:
    """The working set GB-03, calibrated here on 2024-08-01 on the reference set, U = 0.4 µm."""
    return in_house("GB-03", "2024-08-01", reference, u="0.0004")
