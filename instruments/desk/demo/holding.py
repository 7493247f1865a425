"""The standards of the demo laboratory come in: registered, their certificates received and reviewed."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

from instruments.desk.demo.papers import paper
from instruments.desk.demo.stock import ISSUERS, STOCK, Held, Scope
from instruments.desk.demo.world import World
from labsys.laboratory.queries import local_date, start_of_day
from labsys.metrology.exact import plain
from labsys.metrology.units import Quantity
from standards.register.models import Calibration, Element, Standard, quantity_of
from standards.register.operations import StandardData, ValueData, register_standard
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
from standards.traceability.quantities import OF_ANGLES

D = Decimal


def stock_up(world: World, now: datetime) -> None:
    """Register every standard, receive and review its certificate: the reference first, then what relies on it."""
    issuers = {scope.name: _issuer(world, scope, now) for scope in ISSUERS}
    for held in STOCK:
        standard = _register(world, held, now)
        world.standards[held.tag] = standard
        _receive(world, held, issuers[held.paper.issuer], now + timedelta(days=held.after_days))


def _issuer(world: World, scope: Scope, now: datetime) -> Issuer:
    manager = world.people["manager"]
    issuer = register_issuer(name=scope.name, kind=scope.kind, country="Invented", by=manager, now=now)
    for quantity in scope.quantities if scope.body else ():
        is_angle = quantity in OF_ANGLES
        data = AccreditationData(
            body=scope.body,
            number=scope.number,
            quantity=quantity,
            range_low_mm=D("0.5"),
            range_high_mm=D(1_296_000) if is_angle else D(1000),
            cmc_constant_mm=D(1) if is_angle else D(scope.cmc),
            cmc_per_length=D(0) if is_angle else D("0.0000001"),
            valid_from=start_of_day(local_date(now) - timedelta(days=800)),
            lapses_on=world.today + timedelta(days=600),
        )
        record_accreditation(issuer=issuer, data=data, by=manager, now=now)
    return issuer


def _register(world: World, held: Held, now: datetime) -> Standard:
    is_angle = quantity_of(held.kind) is Quantity.ANGLE
    data = StandardData(
        tag=held.tag,
        kind=held.kind,
        name=held.name,
        serial=f"{held.tag}-{world.rng.randrange(1000, 10000)}",
        place=world.places["Standards cabinet"],
        interval_months=held.months,
        maker="Example Instruments",
        model=held.name,
        grade=held.grade,
        expansion_per_k=None if is_angle else D("0.0000115"),
        expansion_half_width_per_k=None if is_angle else D("0.000001"),
        elements=held.elements,
    )
    return register_standard(data=data, by=world.people["manager"], now=now)


def _receive(world: World, held: Held, issuer: Issuer, now: datetime) -> None:
    standard, sheet = world.standards[held.tag], held.paper
    day = local_date(now) - timedelta(days=sheet.days_before)
    values = tuple(_value(world, element, held) for element in standard.elements.all())
    data = CertificateData(
        issuer=issuer,
        number=sheet.number,
        calibrated_on=day,
        issued_on=min(day + timedelta(days=2), local_date(now)),
        quantity=sheet.quantity,
        route=sheet.route,
        serial_on_certificate=standard.serial,
        conditions="(20.0 ± 0.3) °C, by comparison",
        accreditation_mark=sheet.route == "2",
        stated_traceability=sheet.stated_traceability,
    )
    row = receive_certificate(
        standard=standard,
        data=data,
        values=values,
        file=ReceivedFile(f"{sheet.number}.pdf", _file(standard, held, day, values)),
        relies_on=tuple(_newest(world, tag) for tag in sheet.relies_on),
        by=world.people["manager"],
        now=now,
    )
    review_certificate(
        certificate=row,
        answers={question.code: Answer(yes=True) for question in QUESTIONS},
        decision="accept",
        reason="Complete; values entered and compared with the paper.",
        proof=world.proof("reviewer", now),
        by=world.people["reviewer"],
        now=now,
    )


def _newest(world: World, tag: str) -> Calibration:
    return Calibration.objects.filter(standard=world.standards[tag]).latest("calibrated_on")


def _value(world: World, element: Element, held: Held) -> ValueData:
    """Draw a deviation within a grade's size, with U as the certificate states it; none of what serves every length."""
    spread = D(0) if element.continuous else D("0.0001") + element.nominal_mm * D("0.000001")
    if quantity_of(held.kind) is Quantity.ANGLE:
        spread = D("1.5")
    share = D(world.rng.randrange(-80, 81)) / 100
    U_mm = D(held.paper.U_mm) + D(held.paper.U_per_mm) * element.nominal_mm
    return ValueData(element, round(spread * share, 6), round(U_mm, 6), D(2))


def _file(standard: Standard, held: Held, day: date, values: tuple[ValueData, ...]) -> bytes:
    facts = (
        ("Certificate", held.paper.number),
        ("Issued by", held.paper.issuer),
        ("Item", f"{standard.name}, serial {standard.serial}"),
        ("Calibrated on", f"{day:%Y-%m-%d}"),
        ("Traceability", held.paper.stated_traceability),
        ("Uncertainty", "U with k = 2, coverage probability about 95 %"),
    )
    # The sheet's letters have no sign for the arc second.
    unit = "arcsec" if standard.quantity is Quantity.ANGLE else "mm"
    rows = [
        (
            value.element.label,
            f"{plain(value.deviation_mm):f} {unit}",
            f"{plain(value.U_mm or D(0)):f} {unit}",
        )
        for value in values
    ]
    return paper("Calibration certificate", facts, rows)
