"""Acts on models: what a gauge is as made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, ClassVar

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.models import GaugeModel, Unit
from instruments.inventory.operations.reasons import NothingChanged, changes, given
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.models import Family, MeasuringFunction
from labsys.metrology.units import Quantity


class UnknownFunction(LabError, ValueError):
    """A measuring function that nothing in the program speaks of."""

    code: ClassVar[str] = "unknown-function"
    sentence: ClassVar[str] = "“{function}” is no measuring function. Known are: {known}."
    field: ClassVar[str | None] = "functions"


class NoFunction(LabError, ValueError):
    """A gauge or model without any measuring function can't be calibrated."""

    code: ClassVar[str] = "no-function"
    sentence: ClassVar[str] = "{what} has no measuring function. Name at least one of: {known}."
    field: ClassVar[str | None] = "functions"


class UnitOfAnotherQuantity(LabError, ValueError):
    """A model shows a unit of length in a family that measures angles, or the other way round."""

    code: ClassVar[str] = "unit-of-another-quantity"
    sentence: ClassVar[str] = (
        "{family} measures {quantity}s: expected one of the units {known}, found {found}. Choose another unit, or "
        "another family."
    )
    field: ClassVar[str | None] = "unit"


@dataclass(frozen=True)
class ModelData:
    """A model as made. ``resolution`` is one step in ``unit``; lengths in mm; ``expansion_per_k`` per kelvin.

    A model that shows ° or ′ measures angles: its range and scale period are in arc seconds, and nothing asks for its
    expansion.
    """

    family: Family
    maker: str
    designation: str
    indication: str
    resolution: Decimal
    range_high_mm: Decimal
    functions: tuple[str, ...]
    unit: str = "mm"
    range_low_mm: Decimal = Decimal(0)
    scale_period_mm: Decimal | None = None
    inside_jaws: str = "none"
    expansion_per_k: Decimal = Decimal("0.0000115")


def known_functions(functions: tuple[str, ...], *, what: str) -> list[str]:
    """Give the functions in their usual order, once each; raises UnknownFunction or NoFunction."""
    known = ", ".join(MeasuringFunction.values)
    for function in functions:
        if function not in MeasuringFunction.values:
            raise UnknownFunction(function=function, known=known)
    if not functions:
        raise NoFunction(what=what, known=known)
    return [function for function in MeasuringFunction.values if function in functions]


@act("inventory.register-model")
def register_model(*, data: ModelData, by: Acting, now: datetime) -> GaugeModel:
    """Record a model.

    Raises UnknownFunction, NoFunction, UnitOfAnotherQuantity, ValidationError (taken, or a range that doesn't rise).
    """
    require(by, MANAGE_GAUGES)
    row = GaugeModel()
    _fill(row, data)
    note(f"model:{row.pk}", after=describe_model(row))
    return row


@act("inventory.change-model")
def change_model(*, model: GaugeModel, data: ModelData, reason: str, by: Acting, now: datetime) -> GaugeModel:
    """Correct what is written about a model, with a reason.

    Results that stand keep the values they were judged with. Raises ReasonMissing, NothingChanged,
    UnitOfAnotherQuantity, ValidationError.
    """
    require(by, MANAGE_GAUGES)
    subject = f"model:{model.pk}"
    why = given(reason, what="a model", subject=subject)
    row = GaugeModel.objects.select_for_update().get(pk=model.pk)
    before = describe_model(row)
    _fill(row, data)
    old, new = changes(before, describe_model(row))
    if not new:
        raise NothingChanged(what=f"the model {row}", subject=subject)
    note(subject, reason=why, before=old, after=new)
    return row


def describe_model(row: GaugeModel) -> dict[str, Any]:
    """Write a model's fields as the journal keeps them."""
    lengths = ("resolution", "range_low_mm", "range_high_mm", "scale_period_mm", "expansion_per_k")
    words = ("maker", "designation", "indication", "unit", "inside_jaws")
    return {
        "family": row.family.code,
        **{name: str(getattr(row, name)) for name in words},
        **{name: _plain(getattr(row, name)) for name in lengths},
        "functions": list(row.functions),
    }


def _fill(row: GaugeModel, data: ModelData) -> None:
    fields = {**vars(data), "functions": known_functions(data.functions, what="The model")}
    family, units = data.family, Quantity(data.family.quantity).units
    if data.unit not in units:
        known = ", ".join(unit for unit in units if unit in Unit.values)
        raise UnitOfAnotherQuantity(
            family=family.name, quantity=family.quantity, known=known, found=data.unit
        )
    for name, value in fields.items():
        setattr(row, name, value.strip() if isinstance(value, str) else value)
    row.full_clean(exclude=["functions"])
    row.save()
    row.refresh_from_db()


def _plain(value: Decimal | None) -> str | None:
    return None if value is None else format(value.normalize(), "f")
