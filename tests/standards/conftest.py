"""A small invented laboratory: people by role, a cabinet, a block set whose history is made through the acts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.test import Client

from labsys.accounts.models import Person
from labsys.laboratory.models import Place
from standards.register.models import Calibration, Standard
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
REGISTERED = datetime(2024, 1, 8, 8, 0, tzinfo=UTC)


def at(text: str, hour: int = 9) -> datetime:
    """Turn a day such as 2025-03-01 into an instant of it, in UTC; the laboratory of the tests lives there."""
    return datetime.fromisoformat(text).replace(hour=hour, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _zone(settings: Any, tmp_path: Any) -> None:
    settings.LAB_ZONE = "UTC"
    settings.MEDIA_ROOT = tmp_path / "files"


@pytest.fixture
def person(db: None) -> Callable[[str], Person]:
    def make(role: str) -> Person:
        found, fresh = Person.objects.get_or_create(username=role, defaults={"name": f"the {role}"})
        if fresh:
            found.set_password(PASSWORD)
            found.save()
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
def reviewer(person: Callable[[str], Person]) -> Person:
    return person("reviewer")


@pytest.fixture
def auditor(person: Callable[[str], Person]) -> Person:
    return person("auditor")


@pytest.fixture
def sign_in(person: Callable[[str], Person]) -> Callable[[str], Client]:
    """Give a browser in which somebody of a role has signed in."""

    def make(role: str) -> Client:
        client = Client()
        client.force_login(person(role))
        return client

    return make


@pytest.fixture
def cabinet(db: None) -> Place:
    return Place.objects.create(name="Cabinet 1", is_laboratory=True)


def block(nominal: str, *functions: str) -> ElementData:
    """Describe a block that serves the functions, outside unless told."""
    return ElementData(
        label=nominal, nominal_mm=D(nominal), functions=functions or ("outside",), stackable=True
    )


@pytest.fixture
def blocks_data(cabinet: Place) -> StandardData:
    return StandardData(
        tag="GB-01",
        kind="block-set",
        name="Gauge block set, 3 pieces",
        serial="4711",
        place=cabinet,
        interval_months=12,
        grade="1",
        elements=(block("10", "outside", "inside"), block("25"), block("100")),
    )


@pytest.fixture
def make_standard(blocks_data: StandardData, manager: Person) -> Callable[..., Standard]:
    def make(tag: str = "GB-01", now: datetime = REGISTERED, **changes: Any) -> Standard:
        return register_standard(data=replace(blocks_data, tag=tag, **changes), by=manager, now=now)

    return make


@pytest.fixture
def blocks(make_standard: Callable[..., Standard]) -> Standard:
    return make_standard()


def values(
    standard: Standard, deviation: str = "0.0001", u: str = "0.0001", k: str = "2"
) -> tuple[ValueData, ...]:
    """Give every element of a standard the same value."""
    return tuple(ValueData(element, D(deviation), D(u), D(k)) for element in standard.elements.all())


@pytest.fixture
def calibrate(reviewer: Person) -> Callable[..., Calibration]:
    """Record a calibration of every element on a day, accepted at once unless told."""

    def make(
        standard: Standard,
        on: str,
        *,
        given: tuple[ValueData, ...] | None = None,
        accepted: str | None = "",
        evidence: str = "session:1",
        deviation: str = "0.0001",
        u: str = "0.0001",
    ) -> Calibration:
        row = record_calibration(
            standard=standard,
            calibrated_on=date.fromisoformat(on),
            values=values(standard, deviation, u) if given is None else given,
            evidence=evidence,
            by=reviewer,
            now=at(on, 12),
        )
        if accepted is not None:
            mark_accepted(calibration=row, by=reviewer, now=at(accepted or on, 13))
        return row

    return make
