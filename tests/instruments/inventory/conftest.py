"""A small invented plant: people by their role, two departments, a caliper model, and gauges made through the acts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.test import Client

from instruments.inventory.models import Gauge, GaugeModel
from instruments.inventory.operations import GaugeData, ModelData, register_gauge, register_model
from labsys.accounts.models import Person
from labsys.laboratory.models import Department, Family, Place

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture
def person(db: None) -> Callable[[str], Person]:
    def make(role: str) -> Person:
        found, fresh = Person.objects.get_or_create(username=role, defaults={"name": f"the {role}"})
        if fresh:
            found.groups.set(Group.objects.filter(name=role))
        return found

    return make


@pytest.fixture
def manager(person: Callable[[str], Person]) -> Person:
    return person("manager")


@pytest.fixture
def technician(person: Callable[[str], Person]) -> Person:
    return person("technician")


@pytest.fixture
def family(db: None) -> Family:
    return Family.objects.create(code="caliper", name="Caliper", bench_hours=Decimal("0.5"))


@pytest.fixture
def department(db: None) -> Department:
    return Department.objects.create(code="TURN", name="Turning shop", contact="shift lead, turning")


@pytest.fixture
def place(department: Department) -> Place:
    return Place.objects.create(name="Lathe 4", department=department)


@pytest.fixture
def bench(db: None) -> Place:
    return Place.objects.create(name="Bench 1", is_laboratory=True)


@pytest.fixture
def model_data(family: Family) -> ModelData:
    return ModelData(
        family=family,
        maker="Plant stores",
        designation="D150",
        indication="digital",
        resolution=Decimal("0.01"),
        range_high_mm=Decimal("150"),
        functions=("outside", "inside", "depth", "step"),
        inside_jaws="knife-edges",
    )


@pytest.fixture
def model(model_data: ModelData, manager: Person) -> GaugeModel:
    return register_model(data=model_data, by=manager, now=NOW)


@pytest.fixture
def gauge_data(model: GaugeModel, department: Department, place: Place) -> GaugeData:
    return GaugeData(tag="CAL-0001", model=model, serial="S-1", department=department, place=place)


@pytest.fixture
def make_gauge(gauge_data: GaugeData, manager: Person) -> Callable[..., Gauge]:
    def make(tag: str = "CAL-0001", now: datetime = NOW, **changes: Any) -> Gauge:
        return register_gauge(data=replace(gauge_data, tag=tag, **changes), by=manager, now=now)

    return make


@pytest.fixture
def gauge(make_gauge: Callable[..., Gauge]) -> Gauge:
    return make_gauge()


@pytest.fixture
def signed_in(person: Callable[[str], Person]) -> Callable[[str], Client]:
    def open_as(role: str) -> Client:
        client = Client()
        client.force_login(person(role))
        return client

    return open_as
