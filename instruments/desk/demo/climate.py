"""The thermometer of the demo laboratory's room, with its certificate and the last days of its log."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from instruments.desk.demo.papers import paper
from instruments.desk.demo.stock import ACCREDITED
from instruments.desk.demo.world import World
from labsys.laboratory.queries import local_date
from standards.climate.operations import log_readings
from standards.register.models import Standard
from standards.register.operations import StandardData, register_standard
from standards.traceability.checklist import QUESTIONS, Answer
from standards.traceability.files import ReceivedFile
from standards.traceability.models import Issuer
from standards.traceability.operations import (
    CertificateData,
    receive_certificate,
    review_certificate,
)

TAG, LOGGED_DAYS, EVERY = "T-01", 3, timedelta(minutes=10)
EVIDENCE = "The laboratory's own scope covers lengths; its report on temperature was assessed on site."


def hang_up(world: World, now: datetime) -> None:
    """Register the thermometer and accept its certificate."""
    standard = register_standard(
        data=StandardData(
            tag=TAG,
            kind=Standard.Kind.THERMOMETER,
            name="Room thermometer with logger",
            serial="T-01-2041",
            place=world.places["Calibration laboratory"],
            interval_months=24,
            maker="Example Instruments",
            model="Room logger",
            elements=(),
        ),
        by=world.people["manager"],
        now=now,
    )
    world.standards[TAG] = standard
    _certify(world, standard, now)


def _certify(world: World, standard: Standard, now: datetime) -> None:
    day, issuer = local_date(now) - timedelta(days=20), Issuer.objects.get(name=ACCREDITED)
    number = "N 88-1610"
    facts = (
        ("Certificate", number),
        ("Issued by", ACCREDITED),
        ("Item", f"{standard.name}, {standard.serial}"),
    )
    row = receive_certificate(
        standard=standard,
        data=CertificateData(
            issuer=issuer,
            number=number,
            calibrated_on=day,
            issued_on=day,
            quantity="temperature",
            route="3b",
            serial_on_certificate=standard.serial,
            conditions="in a climate chamber, by comparison",
            accreditation_mark=False,
            stated_traceability="Traceable to the national standard of temperature.",
        ),
        values=(),
        file=ReceivedFile(
            f"{number}.pdf", paper("Calibration certificate", facts, [("20 °C", "0.02 K", "0.05 K")])
        ),
        relies_on=(),
        by=world.people["manager"],
        now=now,
    )
    review_certificate(
        certificate=row,
        answers={question.code: Answer(yes=True, remark=EVIDENCE) for question in QUESTIONS},
        decision="accept",
        reason="Complete; its corrections stand in the certificate.",
        proof=world.proof("reviewer", now),
        by=world.people["reviewer"],
        now=now,
    )


def log_room(world: World) -> None:
    """Log the last days up to now: a room that follows the day by a few tenths of a kelvin."""
    count = LOGGED_DAYS * 24 * 6
    first = world.now - count * EVERY
    readings = [_reading(first + number * EVERY) for number in range(count + 1)]
    log_readings(sensor=world.standards[TAG], readings=readings, by=world.people["technician"], now=world.now)


def _reading(at: datetime) -> dict[str, str]:
    share = math.sin((at.hour + at.minute / 60 - 9) / 24 * math.tau)
    return {
        "at": at.isoformat(timespec="seconds"),
        "temperature_c": f"{20.05 + 0.25 * share:.2f}",
        "humidity_percent": f"{46 + 3 * share:.1f}",
    }
