"""A small invented plant for recall: people by their role, a caliper family, gauges made through the acts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import Group

from instruments.inventory.models import Gauge, GaugeModel
from instruments.inventory.operations import GaugeData, ModelData, register_gauge, register_model
from instruments.recall import operations as recall
from instruments.recall.models import CalibrationEvent
from labsys.accounts.models import Person
from labsys.laboratory.models import Department, Family, Place

# A Monday morning in the plant.
NOW = datetime(2026, 11, 23, 8, 0, tzinfo=UTC)
TODAY = NOW.date()
ROLES = ("manager", "technician", "reviewer", "floor", "auditor", "administrator")


@pytest.fixture
def people(db: None) -> dict[str, Person]:
    """One person per role; the one of the floor belongs to the turning shop."""
    turning = Department.objects.create(code="TURN", name="Turning shop", contact="shift lead, turning")
    found = {}
    for role in ROLES:
        department = turning if role == "floor" else None
        person = Person.objects.create_user(
            role, f"{role}@plant.example", name=f"the {role}", department=department
        )
        person.groups.set(Group.objects.filter(name=role))
        found[role] = person
    return found


@pytest.fixture
def turning(people: dict[str, Person]) -> Department:
    return Department.objects.get(code="TURN")


@pytest.fixture
def lathe(turning: Department) -> Place:
    return Place.objects.create(name="Lathe 4", department=turning)


@pytest.fixture
def bench(db: None) -> Place:
    return Place.objects.create(name="Bench 1", is_laboratory=True)


@pytest.fixture
def model(people: dict[str, Person]) -> GaugeModel:
    family = Family.objects.create(code="caliper", name="Caliper", bench_hours=Decimal("0.75"))
    data = ModelData(
        family=family,
        maker="Plant stores",
        designation="D150",
        indication="digital",
        resolution=Decimal("0.01"),
        range_high_mm=Decimal("150"),
        functions=("outside", "inside", "depth", "step"),
        inside_jaws="knife-edges",
    )
    return register_model(data=data, by=people["manager"], now=NOW - timedelta(days=2000))


MakeGauge = Callable[..., Gauge]


@pytest.fixture
def make_gauge(people: dict[str, Person], model: GaugeModel, turning: Department, lathe: Place) -> MakeGauge:
    """Make a gauge: ``calibrated_on`` puts it in service by a calibration of that day, all through the acts."""
    count = iter(range(1, 10_000))

    def make(
        *, calibrated_on: date | None = date(2026, 3, 10), months: int | None = None, **fields: Any
    ) -> Gauge:
        number = next(count)
        data = GaugeData(
            **{
                "tag": f"CAL-{number:04}",
                "model": model,
                "serial": f"S-{number}",
                "department": turning,
                "place": lathe,
                "custodian": people["floor"],
                **fields,
            }
        )
        first = NOW - timedelta(days=1900)
        gauge = register_gauge(data=data, by=people["manager"], now=first)
        recall.refresh_standing(gauge, first)
        if months is not None:
            recall.assign_interval(
                gauge=gauge, months=months, reason="As used.", by=people["manager"], now=first
            )
        if calibrated_on is not None:
            at = datetime(calibrated_on.year, calibrated_on.month, calibrated_on.day, 12, tzinfo=UTC)
            calibrate(gauge, at, by=people["manager"])
            recall.change_state(
                gauge=gauge, state="in-service", reason="Accepted.", by=people["manager"], now=at
            )
        return gauge

    return make


@pytest.fixture
def gauge(make_gauge: MakeGauge) -> Gauge:
    """A caliper in service, calibrated on 2026-03-10, due on 2027-03-10."""
    return make_gauge()


def calibrate(gauge: Gauge, at: datetime, *, by: Person, **changes: Any) -> CalibrationEvent:
    """Record a calibration that ended at ``at``, in tolerance unless told otherwise."""
    source = changes.pop("source", f"session:{gauge.pk}{at:%Y%m%d%H%M}")
    calibrated_on = changes.pop("calibrated_on", at.date())
    found = {"as_found": "in_tolerance", "as_found_within_limits": True, "as_left": "in_tolerance", **changes}
    return recall.record_calibration(
        gauge=gauge,
        source=source,
        calibrated_on=calibrated_on,
        outcome=recall.CalibrationOutcome(**found),
        by=by,
        now=at,
    )
