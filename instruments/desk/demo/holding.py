"""The standards of the demo laboratory and the chain that holds them: institute, reference set, working sets, rings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from instruments.desk.demo.papers import paper
from instruments.desk.demo.world import World
from labsys.laboratory.queries import local_date, start_of_day
from labsys.metrology.exact import plain
from standards.register.models import Calibration, Element, Standard
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

D = Decimal
MM, INCH = D(1), D("25.4")
LENGTHS = ("outside", "depth", "step")
METRIC = [
    "1.005",
    *(f"1.0{n}" for n in range(1, 10)),
    *(f"1.{n}" for n in range(1, 10)),
    *(str(n) for n in range(1, 25)),
    "25", "50", "75", "100",
]  # fmt: skip
LONG = ["125", "150", "175", "200", "250", "300"]
IMPERIAL = [*(f"0.{n}" for n in range(1, 10)), "0.05", "0.125", "0.625", "0.55", "1", "2", "3", "4"]


@dataclass(frozen=True)
class Paper:
    """One certificate to receive: who issued it, by which route, on what it relies; U in mm and per mm."""

    issuer: str
    number: str
    route: str
    days_before: int
    U_mm: str
    U_per_mm: str
    quantity: str = "gauge-block"
    relies_on: tuple[str, ...] = ()
    mark: bool = False


def stock_up(world: World, now: datetime) -> None:
    """Register every standard, receive and review its certificate: the reference first, then what relies on it."""
    issuers = _issuers(world, now)
    # The reference set serves no gauge: only the working set is compared with it.
    _hold(world, "GB-01", "block-set", "Reference gauge blocks", _blocks(METRIC, serves=()), "K", now)
    _receive(
        world,
        issuers,
        "GB-01",
        Paper("Institute of Metrology (invented)", "IM 2291", "1", 70, "0.00002", "0.0000002"),
        now,
    )
    for tag, name, sizes, unit in (
        ("GB-02", "Working gauge blocks", METRIC, MM),
        ("GB-03", "Long gauge blocks", LONG, MM),
        ("GB-04", "Inch gauge blocks", IMPERIAL, INCH),
    ):
        _hold(world, tag, "block-set", name, _blocks(sizes, unit), "1", now)
    here = "Calibration laboratory of the pump works"
    # A working set is compared with the reference after that one's certificate was accepted.
    own = Paper(here, "IN 0017", "in-house", 1, "0.00008", "0.0000005", relies_on=("GB-01",))
    _receive(world, issuers, "GB-02", own, now + timedelta(days=3))
    accredited = "Length laboratory North (invented)"
    _receive(
        world,
        issuers,
        "GB-03",
        Paper(accredited, "N 88-1402", "2", 40, "0.0001", "0.0000005", mark=True),
        now,
    )
    _receive(
        world,
        issuers,
        "GB-04",
        Paper(accredited, "N 88-1403", "2", 40, "0.0001", "0.0000005", mark=True),
        now,
    )
    rings = (
        ("SR-01", "25", ("inside",)),
        ("SR-02", "5", ("small_bore",)),
        ("SR-03", "5.08", ("small_bore",)),
        ("SR-04", "25.4", ("inside",)),
    )
    for number, (tag, size, serves) in enumerate(rings, start=1):
        _hold(world, tag, "ring", f"Setting ring {size} mm", [ElementData(size, D(size), serves)], "", now)
        ring = Paper(accredited, f"N 88-150{number}", "2", 35, "0.0004", "0", "ring", mark=True)
        _receive(world, issuers, tag, ring, now)
    bar = [ElementData(f"step {n}", D(n), ("outside",)) for n in (25, 50, 100, 150, 200)]
    _hold(world, "CB-01", "check-bar", "Check bar 200", bar, "", now, months=12)
    _receive(
        world,
        issuers,
        "CB-01",
        Paper(accredited, "N 88-1466", "2", 30, "0.0005", "0.000001", "step", mark=True),
        now,
    )


def _issuers(world: World, now: datetime) -> dict[str, Issuer]:
    wanted = (
        (
            "Institute of Metrology (invented)",
            "institute",
            "Mutual recognition arrangement",
            "IM-L-03",
            "0.00001",
        ),
        (
            "Length laboratory North (invented)",
            "accredited",
            "Accreditation body (invented)",
            "LAB-0815",
            "0.00005",
        ),
        ("Calibration laboratory of the pump works", "in-house", "", "", ""),
    )
    issuers = {}
    for name, kind, body, number, cmc in wanted:
        issuers[name] = register_issuer(
            name=name, kind=kind, country="Invented", by=world.people["manager"], now=now
        )
        for quantity in ("gauge-block", "ring", "step") if body else ():
            data = AccreditationData(
                body=body,
                number=number,
                quantity=quantity,
                range_low_mm=D("0.5"),
                range_high_mm=D(1000),
                cmc_constant_mm=D(cmc),
                cmc_per_length=D("0.0000001"),
                valid_from=start_of_day(local_date(now) - timedelta(days=800)),
                lapses_on=world.today + timedelta(days=600),
            )
            record_accreditation(issuer=issuers[name], data=data, by=world.people["manager"], now=now)
    return issuers


def _blocks(sizes: Iterable[str], unit: Decimal = MM, serves: tuple[str, ...] = LENGTHS) -> list[ElementData]:
    word = "mm" if unit == MM else "in"
    return [ElementData(f"{size} {word}", D(size) * unit, serves, stackable=True) for size in sizes]


def _hold(
    world: World,
    tag: str,
    kind: str,
    name: str,
    elements: list[ElementData],
    grade: str,
    now: datetime,
    months: int = 24,
) -> None:
    data = StandardData(
        tag=tag,
        kind=kind,
        name=name,
        serial=f"{tag}-{world.rng.randrange(1000, 10000)}",
        place=world.places["Standards cabinet"],
        interval_months=months,
        maker="Example Instruments",
        model=name,
        grade=grade,
        expansion_per_k=D("0.0000115"),
        expansion_half_width_per_k=D("0.000001"),
        elements=tuple(elements),
    )
    world.standards[tag] = register_standard(data=data, by=world.people["manager"], now=now)


def _receive(world: World, issuers: dict[str, Issuer], tag: str, sheet: Paper, now: datetime) -> Calibration:
    standard = world.standards[tag]
    day = local_date(now) - timedelta(days=sheet.days_before)
    values = tuple(_value(world, element, sheet) for element in standard.elements.all())
    upstream = tuple(
        Calibration.objects.filter(standard=world.standards[other]).latest("calibrated_on")
        for other in sheet.relies_on
    )
    data = CertificateData(
        issuer=issuers[sheet.issuer],
        number=sheet.number,
        calibrated_on=day,
        issued_on=min(day + timedelta(days=2), local_date(now)),
        quantity=sheet.quantity,
        route=sheet.route,
        serial_on_certificate=standard.serial,
        conditions="(20.0 ± 0.3) °C, by comparison",
        accreditation_mark=sheet.mark,
        stated_traceability=_stated(sheet),
    )
    row = receive_certificate(
        standard=standard,
        data=data,
        values=values,
        file=ReceivedFile(f"{sheet.number}.pdf", _file(standard, sheet, day, values)),
        relies_on=upstream,
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
    calibration: Calibration = row.calibration
    return calibration


def _stated(sheet: Paper) -> str:
    if sheet.route == "1":
        return "Own realization of the metre."
    if sheet.route == "2":
        return "Traceable to the Institute of Metrology (invented), certificate IM 2108."
    return "By comparison with the reference gauge blocks of this laboratory."


def _value(world: World, element: Element, sheet: Paper) -> ValueData:
    spread = D("0.0001") + element.nominal_mm * D("0.000001")
    share = D(world.rng.randrange(-80, 81)) / 100
    U_mm = D(sheet.U_mm) + D(sheet.U_per_mm) * element.nominal_mm
    return ValueData(element, round(spread * share, 6), round(U_mm, 6), D(2))


def _file(standard: Standard, sheet: Paper, day: date, values: tuple[ValueData, ...]) -> bytes:
    facts = (
        ("Certificate", sheet.number),
        ("Issued by", sheet.issuer),
        ("Item", f"{standard.name}, serial {standard.serial}"),
        ("Calibrated on", f"{day:%Y-%m-%d}"),
        ("Traceability", _stated(sheet)),
        ("Uncertainty", "U with k = 2, coverage probability about 95 %"),
    )
    rows = [
        (value.element.label, f"{plain(value.deviation_mm):f} mm", f"{plain(value.U_mm or D(0)):f} mm")
        for value in values
    ]
    return paper("Calibration certificate", facts, rows)
