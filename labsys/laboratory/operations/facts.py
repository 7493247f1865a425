"""Acts on plain facts: departments, places, families. Changes are journalled with what was written before."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar

from django.db import models

from labsys.journal.door import Acting, act, note
from labsys.journal.reasons import changed, given
from labsys.journal.roles import require
from labsys.laboratory.access import MANAGE_LABORATORY
from labsys.laboratory.models import Department, Family, Place
from labsys.metrology.units import Quantity

Row = TypeVar("Row", bound=models.Model)


@act("laboratory.add-department")
def add_department(*, code: str, name: str, contact: str, by: Acting, now: datetime) -> Department:
    """Record a department; raises ValidationError when its code or name is taken."""
    require(by, MANAGE_LABORATORY)
    row = Department(code=code.strip(), name=name.strip(), contact=contact.strip())
    row.full_clean()
    row.save()
    note(f"department:{row.pk}", after={"code": row.code, "name": row.name, "contact": row.contact})
    return row


@act("laboratory.add-place")
def add_place(
    *, name: str, department: Department | None, is_laboratory: bool = False, by: Acting, now: datetime
) -> Place:
    """Record a place; raises ValidationError when its name is taken."""
    require(by, MANAGE_LABORATORY)
    row = Place(name=name.strip(), department=department, is_laboratory=is_laboratory)
    row.full_clean()
    row.save()
    note(f"place:{row.pk}", after=_said(row, ("name", "department", "is_laboratory")))
    return row


@act("laboratory.add-family")
def add_family(
    *,
    code: str,
    name: str,
    bench_hours: Decimal,
    interval_months: int,
    quantity: str = Quantity.LENGTH,
    by: Acting,
    now: datetime,
) -> Family:
    """Record a family of gauges with its planned bench hours, the interval its gauges start with, what they measure.

    ``quantity`` is length or angle; it stays. Raises ValidationError when its code or name is taken.
    """
    require(by, MANAGE_LABORATORY)
    row = Family(
        code=code.strip(),
        name=name.strip(),
        bench_hours=bench_hours,
        default_interval_months=interval_months,
        quantity=quantity,
    )
    row.full_clean()
    row.save()
    said = ("code", "name", "bench_hours", "default_interval_months")
    is_length = row.quantity == Quantity.LENGTH
    note(f"family:{row.pk}", after=_said(row, said if is_length else (*said, "quantity")))
    return row


@dataclass(frozen=True)
class DepartmentData:
    """What is written about a department."""

    code: str
    name: str
    contact: str


@dataclass(frozen=True)
class PlaceData:
    """What is written about a place."""

    name: str
    department: Department | None
    is_laboratory: bool


@dataclass(frozen=True)
class FamilyData:
    """What is written about a family, its code apart: procedures and agreements speak of that."""

    name: str
    bench_hours: Decimal
    default_interval_months: int


@act("laboratory.change-department")
def change_department(
    *, department: Department, data: DepartmentData, reason: str, by: Acting, now: datetime
) -> Department:
    """Correct a department; certificates issued before keep the name of their time.

    Raises ReasonMissing, NothingChanged, ValidationError.
    """
    require(by, MANAGE_LABORATORY)
    return _change(Department, department.pk, data, reason, what="a department")


@act("laboratory.change-place")
def change_place(*, place: Place, data: PlaceData, reason: str, by: Acting, now: datetime) -> Place:
    """Correct a place; raises ReasonMissing, NothingChanged, ValidationError."""
    require(by, MANAGE_LABORATORY)
    return _change(Place, place.pk, data, reason, what="a place")


@act("laboratory.change-family")
def change_family(*, family: Family, data: FamilyData, reason: str, by: Acting, now: datetime) -> Family:
    """Correct a family: intervals that were assigned to gauges stay, only new gauges start with another one.

    Raises ReasonMissing, NothingChanged, ValidationError.
    """
    require(by, MANAGE_LABORATORY)
    return _change(Family, family.pk, data, reason, what="a family")


def _change(kind: type[Row], pk: int, data: Any, reason: str, *, what: str) -> Row:
    subject = f"{kind._meta.model_name}:{pk}"
    why = given(reason, what=f"A change of {what}", subject=subject)
    row = kind._default_manager.select_for_update().get(pk=pk)
    names = tuple(asdict(data))
    before = _said(row, names)
    for name in names:
        value = getattr(data, name)
        setattr(row, name, value.strip() if isinstance(value, str) else value)
    old, new = changed(before, _said(row, names), what=str(row), subject=subject)
    row.full_clean()
    row.save(update_fields=names)
    note(subject, reason=why, before=old, after=new)
    return row


def _said(row: models.Model, names: tuple[str, ...]) -> dict[str, Any]:
    values = {name: getattr(row, name) for name in names}
    return {name: str(value) if isinstance(value, models.Model) else value for name, value in values.items()}
