"""The first day: people, departments, what was agreed, procedure, models with limits, gauges."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from instruments.desk.demo.people import PEOPLE, DemoPerson
from instruments.desk.demo.plant import (
    CALIPERS,
    DEPARTMENTS,
    FAMILIES,
    MAKER,
    MODELS,
    OF_ANGLES,
    OTHERS,
    PLACE_OF,
    PLACES,
    PREFIX,
    DemoModel,
)
from instruments.desk.demo.world import World
from instruments.inventory.operations import (
    GaugeData,
    LimitsData,
    ModelData,
    add_member,
    register_gauge,
    register_model,
    set_limits,
)
from instruments.procedures.content import dump
from instruments.procedures.operations import approve_revision, draft_revision, start_procedure
from instruments.procedures.shipped import AsMade, limits_for
from instruments.procedures.shipped import procedure as shipped_procedure
from labsys.accounts.models import Activity
from labsys.accounts.operations import Grant, authorise, register_person
from labsys.journal.door import Actor
from labsys.laboratory.operations import (
    AgreementTerms,
    add_department,
    add_family,
    add_place,
    agree,
    set_capacity,
    set_details,
)
from labsys.metrology.units import Quantity

LOADER = Actor("job:demo", "Demo loader", "job")
D = Decimal

PROCEDURES = (
    ("caliper", "CAL-01", "Calipers"),
    ("outside-micrometer", "CAL-02", "Outside micrometers"),
    ("dial-indicator", "CAL-03", "Dial indicators"),
    ("plain-plug", "CAL-04", "Plain plug gauges"),
    ("height-gauge", "CAL-05", "Height gauges"),
    ("setting-ring", "CAL-06", "Setting rings"),
    ("bore-gauge", "CAL-07", "Bore gauges"),
    ("checker-bar", "CAL-08", "Checker bars"),
    ("depth-gauge", "CAL-09", "Depth gauges"),
    ("depth-micrometer", "CAL-10", "Depth micrometers"),
    ("digital-indicator", "CAL-11", "Digital indicators"),
    ("feeler", "CAL-12", "Feeler gauges"),
    ("gauge-block", "CAL-13", "Gauge blocks"),
    ("inside-micrometer", "CAL-14", "Inside micrometers"),
    ("lever-indicator", "CAL-15", "Lever indicators"),
    ("plain-pin", "CAL-16", "Plain pins"),
    ("plain-ring", "CAL-17", "Plain ring gauges"),
    ("radius-gauge", "CAL-18", "Radius gauges"),
    ("surface-plate", "CAL-19", "Surface plates"),
    ("thread-plug", "CAL-20", "Thread plug gauges"),
    ("protractor", "CAL-21", "Bevel protractors"),
)
"""Family, code and title of each procedure in force."""

SIMPLE: dict[str, Any] = {"kind": "simple", "min_ratio": "4", "view": "test_value"}
GUARDED: dict[str, Any] = {"kind": "guarded", "g": "1", "view": "test_value"}


def first_day(world: World, now: datetime) -> None:
    """Set the laboratory up as it stood before its first calibration."""
    _laboratory(world, now)
    for person in PEOPLE:
        _person(world, person, now)
    _agreements(world, now)
    for model in MODELS:
        _model(world, model, now)
    # After the models: their limits are what a procedure is tried on before it is approved.
    for code, number, title in PROCEDURES:
        _procedure(world, code, (number, title), now)
    _gauges(world, now)


def _laboratory(world: World, now: datetime) -> None:
    set_details(
        name="Calibration laboratory of the pump works",
        address="Pump works, Hall 3\n1 Works Road\n00000 Invented Town",
        contact="laboratory@pump-works.invalid · extension 300",
        second_signature=True,
        reason="",
        by=LOADER,
        now=now,
    )
    set_capacity(
        hours_per_week=D(24), valid_from=now, reason="two technicians, half days", by=LOADER, now=now
    )
    for code, name, contact in DEPARTMENTS:
        world.departments[code] = add_department(code=code, name=name, contact=contact, by=LOADER, now=now)
    for name, code in PLACES:
        department = world.departments.get(code)
        world.places[name] = add_place(
            name=name, department=department, is_laboratory=not code, by=LOADER, now=now
        )
    for code, name, hours, months in FAMILIES:
        quantity = Quantity.ANGLE if code in OF_ANGLES else Quantity.LENGTH
        world.families[code] = add_family(
            code=code,
            name=name,
            bench_hours=D(hours),
            interval_months=months,
            quantity=quantity,
            by=LOADER,
            now=now,
        )


def _person(world: World, person: DemoPerson, now: datetime) -> None:
    row = register_person(
        username=person.username,
        name=person.name,
        email=f"{person.username}@pump-works.invalid",
        password=person.password,
        roles=(person.role,),
        department=world.departments.get(person.department),
        by=LOADER,
        now=now,
    )
    world.people[person.username] = row
    families = list(world.families.values())
    for activity in person.activities:
        for family in families:
            _authorise(world, person, activity, family.code, now)


def _authorise(world: World, person: DemoPerson, activity: Activity, family: str, now: datetime) -> None:
    """Authorise for a while; the second technician's calipers run out soon, so that somebody is reminded."""
    soon = person.username == "technician-2" and family == "caliper"
    grant = Grant(
        person=world.people[person.username],
        activity=activity,
        family=world.families[family],
        lapses_on=world.today + timedelta(days=25 if soon else 700),
        evidence="three supervised calibrations, compared with the first technician's",
    )
    authorise(grant=grant, valid_from=now, by=LOADER, now=now)


def _agreements(world: World, now: datetime) -> None:
    """Every department agreed for calipers; receiving inspection wants a guard, shafts want due dates printed."""
    for code, department in world.departments.items():
        terms = AgreementTerms(
            rule=GUARDED if code == "RI" else SIMPLE,
            adjustment_allowed=code != "RI",
            due_date_printed=code == "SH",
            recipients=[f"{department.code.lower()}@pump-works.invalid"],
        )
        agree(
            department=department,
            family=world.families["caliper"],
            terms=terms,
            agreed_by=department.contact,
            valid_from=now,
            by=world.people["manager"],
            now=now,
        )
        for family, _number, _title in PROCEDURES[1:]:
            own = AgreementTerms(rule=dict(shipped_procedure(family).rule), adjustment_allowed=False)
            agree(
                department=department,
                family=world.families[family],
                terms=own,
                agreed_by=department.contact,
                valid_from=now,
                by=world.people["manager"],
                now=now,
            )


def _procedure(world: World, code: str, named: tuple[str, str], now: datetime) -> None:
    manager, reviewer = world.people["manager"], world.people["reviewer"]
    number, title = named
    procedure = start_procedure(code=number, title=title, family=world.families[code], by=manager, now=now)
    text = dump(shipped_procedure(code))
    draft = draft_revision(procedure=procedure, content_text=text, change="", by=manager, now=now)
    approve_revision(
        revision=draft,
        seen_sha256=draft.content_sha256,
        proof=world.proof("reviewer", now),
        by=reviewer,
        now=now,
    )


def _model(world: World, model: DemoModel, now: datetime) -> None:
    manager = world.people["manager"]
    data = ModelData(
        family=world.families[model.family],
        maker=MAKER,
        designation=model.designation,
        indication=model.indication,
        resolution=D(model.step),
        range_low_mm=D(model.range_low),
        range_high_mm=D(model.range_high),
        functions=model.functions,
        unit=model.unit,
        inside_jaws=model.inside_jaws,
        scale_period_mm=None if model.scale_period is None else D(model.scale_period),
    )
    row = register_model(data=data, by=manager, now=now)
    world.models[model.key] = row
    limits = limits_for(
        model.family,
        AsMade(
            range_high_mm=row.range_high_mm,
            range_low_mm=row.range_low_mm,
            functions=model.functions,
            step=row.resolution,
            unit=model.unit,
            **model.made,
        ),
    )
    set_limits(
        model=row,
        data=LimitsData(list(limits.rows), limits.source, limits.confirmed),
        valid_from=now,
        by=manager,
        now=now,
    )


def _gauges(world: World, now: datetime) -> None:
    numbers: dict[str, int] = {}
    for key, department, count in (*CALIPERS, *OTHERS):
        for turn in range(count):
            prefix = PREFIX[world.models[key].family.code]
            numbers[prefix] = numbers.get(prefix, 0) + 1
            _gauge(world, f"{prefix}-{numbers[prefix]:04d}", key, department, turn, now)


def _gauge(world: World, tag: str, key: str, department: str, turn: int, now: datetime) -> None:
    model = world.models[key]
    places = PLACE_OF[department]
    keepers = [p.username for p in PEOPLE if p.department == department]
    data = GaugeData(
        tag=tag,
        model=model,
        serial=f"{world.rng.randrange(10**6, 10**7)}",
        department=world.departments[department],
        place=world.places[places[turn % len(places)]],
        custodian=world.people[keepers[0]],
        functions=tuple(model.functions),
    )
    gauge = register_gauge(data=data, by=world.people["manager"], now=now)
    world.gauges[tag] = gauge
    for label, nominal in next(one.members for one in MODELS if one.key == key):
        add_member(gauge=gauge, label=label, nominal_mm=D(nominal), by=world.people["manager"], now=now)
