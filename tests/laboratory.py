"""A small invented laboratory for tests, made through the acts: fixed people, calipers, standards, a procedure.

Topics' conftest files build on it; nothing here writes rows behind the acts' backs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from instruments.inventory.models import Gauge, GaugeModel
from instruments.inventory.operations import (
    GaugeData,
    LimitsData,
    ModelData,
    register_gauge,
    register_model,
    set_limits,
)
from instruments.procedures.content import Content, dump
from instruments.procedures.models import Revision
from instruments.procedures.operations import approve_revision, draft_revision, start_procedure
from instruments.procedures.shipped import caliper
from labsys.accounts.models import Activity, Person
from labsys.accounts.operations import Grant, SignInProof, authorise, register_person
from labsys.journal.door import Actor
from labsys.journal.roles import Role
from labsys.laboratory.models import Department, Family, Place
from labsys.laboratory.operations import (
    AgreementTerms,
    add_department,
    add_family,
    add_place,
    agree,
    set_details,
)
from standards.register.models import Standard
from standards.register.operations import (
    ElementData,
    StandardData,
    ValueData,
    mark_accepted,
    record_calibration,
    register_standard,
)

D = Decimal
PASSWORD = "four words without sense"
SETUP = Actor("job:set-up", "set-up", "administrator")
START = datetime(2025, 1, 7, 8, 0, tzinfo=UTC)
"""When the laboratory of the tests was set up."""

FUNCTIONS = ("outside", "inside", "depth", "step", "small_bore")
SIMPLE = {"kind": "simple", "min_ratio": 4, "view": "test_value"}


@dataclass(frozen=True)
class Lab:
    """Everything a test needs a handle on."""

    manager: Person
    technician: Person
    reviewer: Person
    floor: Person
    auditor: Person
    administrator: Person
    department: Department
    bench: Place
    shop: Place
    family: Family
    revision: Revision
    blocks: Standard
    rings: Standard


def proof(person: Person, now: datetime) -> SignInProof:
    """Make what signing in again gives, without the slow hash."""
    return SignInProof(person.pk, now)


def build(now: datetime = START, *, content: Content | None = None) -> Lab:
    """Set up the laboratory: people by role, one department, calipers in millimetres and inches, blocks and rings."""
    department = add_department(code="SH", name="Shafts", contact="shop lead", by=SETUP, now=now)
    bench = add_place(name="Laboratory", department=None, is_laboratory=True, by=SETUP, now=now)
    shop = add_place(name="Shaft line", department=department, by=SETUP, now=now)
    family = add_family(
        code="caliper", name="Caliper", bench_hours=D("0.75"), interval_months=12, by=SETUP, now=now
    )
    set_details(
        name="Calibration laboratory of the pump works",
        address="1 Works Road",
        contact="laboratory@pump-works.example",
        second_signature=True,
        reason="",
        by=SETUP,
        now=now,
    )
    people = {role: _person(role, department, now) for role in Role}
    _authorise(people, family, now)
    return Lab(
        **{role.value: person for role, person in people.items()},
        department=department,
        bench=bench,
        shop=shop,
        family=family,
        revision=approved(family, people[Role.MANAGER], people[Role.REVIEWER], now, content=content),
        blocks=block_set(bench, people[Role.MANAGER], now),
        rings=ring_set(bench, people[Role.MANAGER], now),
    )


def _person(role: Role, department: Department, now: datetime) -> Person:
    return register_person(
        username=role.value,
        name=f"The {role.value}",
        email=f"{role.value}@pump-works.example",
        password=PASSWORD,
        roles=(role,),
        department=department if role is Role.FLOOR else None,
        by=SETUP,
        now=now,
    )


def _authorise(people: dict[Role, Person], family: Family, now: datetime) -> None:
    wanted = {
        Role.TECHNICIAN: (Activity.MEASURE,),
        Role.REVIEWER: (Activity.REVIEW, Activity.AUTHORISE, Activity.APPROVE_PROCEDURES),
    }
    for role, activities in wanted.items():
        for activity in activities:
            grant = Grant(
                people[role], activity, family, lapses_on=date(2028, 1, 1), evidence="supervised runs"
            )
            authorise(grant=grant, valid_from=now, by=SETUP, now=now)


def approved(
    family: Family, drafter: Person, approver: Person, now: datetime, *, content: Content | None = None
) -> Revision:
    """Draft and approve a procedure for the family; the shipped one unless a content is given."""
    procedure = start_procedure(code="CAL-1", title="Calipers", family=family, by=drafter, now=now)
    draft = draft_revision(
        procedure=procedure, content_text=dump(content or caliper()), change="", by=drafter, now=now
    )
    return approve_revision(
        revision=draft, seen_sha256=draft.content_sha256, proof=proof(approver, now), by=approver, now=now
    )


def shipped(**changes: Any) -> Content:
    """Give the shipped caliper content with some parts replaced."""
    return replace(caliper(), **changes)


MM_BLOCKS = [
    "1.3",
    "5",
    "10",
    "20",
    "25",
    "30",
    "40",
    "41.3",
    "50",
    "60",
    "70",
    "80",
    "90",
    "100",
    "120",
    "125",
    "131.4",
    "150",
]
INCH_BLOCKS = ["0.2", "0.5", "1", "1.5", "1.625", "2", "3", "3.55", "4", "6"]


def block_set(place: Place, by: Person, now: datetime, *, deviation: str = "0") -> Standard:
    """Register, calibrate and accept a set of blocks in millimetres and inches, all single pieces that wring."""
    elements = [_block(f"{text} mm", D(text)) for text in MM_BLOCKS]
    elements += [_block(f"{text} in", D(text) * D("25.4")) for text in INCH_BLOCKS]
    return _standard("GB-01", "block-set", "Gauge block set", elements, place, by, now, deviation=deviation)


def ring_set(place: Place, by: Person, now: datetime) -> Standard:
    """Register, calibrate and accept setting rings of 5 mm, 0.2 in and 25 mm."""
    elements = [
        ElementData("5 mm", D(5), ("small_bore",)),
        ElementData("0.2 in", D("5.08"), ("small_bore",)),
        ElementData("25 mm", D(25), ("inside",)),
    ]
    return _standard("SR-01", "ring", "Setting rings", elements, place, by, now, deviation="0")


def _block(label: str, nominal_mm: Decimal) -> ElementData:
    return ElementData(label, nominal_mm, ("outside", "inside", "depth", "step"), stackable=True)


def _standard(
    tag: str,
    kind: str,
    name: str,
    elements: list[ElementData],
    place: Place,
    by: Person,
    now: datetime,
    *,
    deviation: str,
) -> Standard:
    data = StandardData(
        tag=tag,
        kind=kind,
        name=name,
        serial=f"{tag}-1",
        place=place,
        interval_months=24,
        grade="1",
        expansion_per_k=D("0.0000115"),
        elements=tuple(elements),
    )
    standard = register_standard(data=data, by=by, now=now)
    values = tuple(ValueData(element, D(deviation), D("0.0001"), D(2)) for element in standard.elements.all())
    row = record_calibration(
        standard=standard,
        calibrated_on=(now - timedelta(days=30)).date(),
        values=values,
        evidence="certificate:1",
        by=SETUP,
        now=now,
    )
    mark_accepted(calibration=row, by=SETUP, now=now, reason="reviewed on receipt")
    return standard


def caliper_model(
    lab: Lab, now: datetime = START, *, inch: bool = False, limit_mm: str | None = None, **changes: Any
) -> GaugeModel:
    """Register a 150 mm / 6 in digital caliper model with unconfirmed limits of one or two steps."""
    data = ModelData(
        family=lab.family,
        maker="Invented Tools",
        designation="C-6" if inch else "C-150",
        indication="digital",
        resolution=D("0.0005") if inch else D("0.01"),
        range_high_mm=D("152.4") if inch else D("150"),
        functions=FUNCTIONS,
        unit="in" if inch else "mm",
        inside_jaws="knife-edges",
    )
    model = register_model(data=replace(data, **changes), by=lab.manager, now=now)
    limit = D(limit_mm) if limit_mm else (D("0.0254") if inch else D("0.03"))
    rows = [
        {"function": f, "up_to_mm": str(model.range_high_mm), "lower_mm": str(-limit), "upper_mm": str(limit)}
        for f in model.functions
    ]
    set_limits(
        model=model, data=LimitsData(rows, "common practice, no source"), valid_from=now, by=lab.manager, now=now
    )  # fmt: skip
    return model


def caliper_gauge(lab: Lab, model: GaugeModel, now: datetime = START, *, tag: str = "C-0001") -> Gauge:
    """Register a caliper of the department."""
    data = GaugeData(
        tag=tag,
        model=model,
        serial=f"S-{tag}",
        department=lab.department,
        place=lab.shop,
        custodian=lab.floor,
        functions=tuple(model.functions),
    )
    return register_gauge(data=data, by=lab.manager, now=now)


def agreed(lab: Lab, now: datetime = START, **terms: Any) -> None:
    """Record the department's agreement: simple acceptance on the test value uncertainty unless told otherwise."""
    wanted = AgreementTerms(**{"rule": SIMPLE, "adjustment_allowed": True, **terms})
    agree(
        department=lab.department,
        family=lab.family,
        terms=wanted,
        agreed_by="shop lead",
        valid_from=now,
        by=SETUP,
        now=now,
    )
