"""Gives the standards of the tests' laboratory certificates from an accredited issuer, through the acts."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

from labsys.metrology.units import Quantity
from standards.register.models import Calibration, Standard
from standards.register.operations import ElementData, StandardData, ValueData, register_standard
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
from tests.laboratory import START, Lab, build, proof

D = Decimal
RECEIVED = datetime(2025, 2, 3, 9, 0, tzinfo=UTC)
CALIBRATED_ON, ISSUED_ON = date(2025, 1, 20), date(2025, 1, 24)
IN_HOUSE_AT = datetime(2025, 3, 3, 9, 0, tzinfo=UTC)
ROUTES = {"institute": "1", "accredited": "2", "in-house": "in-house"}
SCAN = b"%PDF-1.7\nan invented certificate\n%%EOF\n"


def traced_lab() -> Lab:
    """Set the tests' laboratory up with a certificate behind each of its standards."""
    made = build()
    trace(made)
    return made


def trace(lab: Lab) -> dict[str, Calibration]:
    """Put a certificate on file for each standard and accept it; gives the calibrations by tag."""
    issuer = _issuer("Invented accredited laboratory", "accredited", lab)
    return {str(one.tag): _certified(one, issuer, lab) for one in (lab.blocks, lab.rings)}


def certify(standard: Standard, lab: Lab) -> Calibration:
    """Put an accredited laboratory's certificate on file for one standard: 0.1 µm more than nominal, U = 0.1 µm."""
    name = "Invented accredited laboratory"
    return _certified(
        standard, Issuer.objects.filter(name=name).first() or _issuer(name, "accredited", lab), lab
    )


def trace_in_house(lab: Lab) -> dict[str, Calibration]:
    """Trace as above, but the block set through a calibration in the house on a reference set of the institute's."""
    made = trace(lab)
    reference = _reference(lab)
    made["RB-01"] = _certified(reference, _issuer("Invented national institute", "institute", lab), lab)
    here = register_issuer(name="This laboratory", kind="in-house", by=lab.manager, now=RECEIVED)
    made["GB-01"] = _certified(lab.blocks, here, lab, relies_on=(made["RB-01"],))
    return made


def _issuer(name: str, kind: str, lab: Lab) -> Issuer:
    issuer = register_issuer(name=name, kind=kind, by=lab.manager, now=RECEIVED)
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
    return issuer


def _recognise_for_angles(issuer: Issuer, lab: Lab) -> None:
    """Put angles up to a turn into the issuer's scope, in arc seconds."""
    line = AccreditationData(
        body="Invented accreditation body",
        number="0042",
        quantity="angle",
        range_low_mm=D(1),
        range_high_mm=D(1_296_000),
        cmc_constant_mm=D("0.00005"),
        cmc_per_length=D(0),
        valid_from=datetime(2020, 1, 1, tzinfo=UTC),
    )
    record_accreditation(issuer=issuer, data=line, by=lab.manager, now=RECEIVED)


def _reference(lab: Lab) -> Standard:
    data = StandardData(
        tag="RB-01",
        kind="block-set",
        name="Reference gauge block set",
        serial="RB-01-1",
        place=lab.bench,
        interval_months=24,
        grade="K",
        expansion_per_k=D("0.0000115"),
        elements=tuple(
            # It serves no function of a caliper, so that no session picks it for one.
            ElementData(one.label, one.nominal_mm, ("size",), stackable=False)
            for one in lab.blocks.elements.all()
        ),
    )
    return register_standard(data=data, by=lab.manager, now=START)


def _certified(
    standard: Standard, issuer: Issuer, lab: Lab, relies_on: tuple[Calibration, ...] = ()
) -> Calibration:
    """Receive and accept a certificate; one of the house comes later and is less certain than what it relies on."""
    at = IN_HOUSE_AT if relies_on else RECEIVED
    if standard.quantity is Quantity.ANGLE:
        _recognise_for_angles(issuer, lab)
    on, U_mm = (at.date(), D("0.0002")) if relies_on else (CALIBRATED_ON, D("0.0001"))
    data = CertificateData(
        issuer=issuer,
        number=f"KB-{standard.tag}/25{'-H' if relies_on else ''}",
        calibrated_on=on,
        issued_on=on if relies_on else ISSUED_ON,
        quantity="angle" if standard.quantity is Quantity.ANGLE else "gauge-block",
        route=ROUTES[issuer.kind],
        serial_on_certificate=standard.serial,
        conditions="20.0 °C ± 0.3 K",
        accreditation_mark=not relies_on,
        stated_traceability="national institute",
    )
    received = receive_certificate(
        standard=standard,
        data=data,
        values=tuple(ValueData(one, D("0.0001"), U_mm, D(2)) for one in standard.elements.all()),
        file=ReceivedFile("scan.pdf", SCAN),
        relies_on=relies_on,
        by=lab.manager,
        now=at,
    )
    review_certificate(
        certificate=received,
        answers={question.code: Answer(True, "seen") for question in QUESTIONS},
        decision="accept",
        reason="",
        proof=proof(lab.reviewer, at),
        by=lab.reviewer,
        now=at,
    )
    return Calibration.objects.get(pk=received.calibration_id)
