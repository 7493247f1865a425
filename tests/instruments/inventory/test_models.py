"""Models: what a gauge is as made."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from instruments.inventory.models import GaugeModel
from instruments.inventory.operations import ModelData, change_model, register_model
from instruments.inventory.operations.models import NoFunction, UnknownFunction
from instruments.inventory.operations.reasons import NothingChanged, ReasonMissing
from labsys.accounts.models import Person
from labsys.journal.queries import about


def test_functions_are_known_and_in_order(model_data: ModelData, manager: Person, now: datetime) -> None:
    made = register_model(data=replace(model_data, functions=("depth", "outside")), by=manager, now=now)
    assert made.functions == ["outside", "depth"]
    with pytest.raises(UnknownFunction):
        register_model(data=replace(model_data, designation="X", functions=("squint",)), by=manager, now=now)
    with pytest.raises(NoFunction):
        register_model(data=replace(model_data, designation="X", functions=()), by=manager, now=now)


@pytest.mark.parametrize(
    "wrong",
    [{"resolution": Decimal(0)}, {"range_high_mm": Decimal(0)}, {"maker": ""}, {"indication": "smoke"}],
)
def test_what_cannot_be_is_refused(
    wrong: dict[str, object], model_data: ModelData, manager: Person, now: datetime
) -> None:
    with pytest.raises(ValidationError):
        register_model(data=replace(model_data, **wrong), by=manager, now=now)  # type: ignore[arg-type]
    assert not GaugeModel.objects.exists()


def test_a_model_is_registered_once(
    model: GaugeModel, model_data: ModelData, manager: Person, now: datetime
) -> None:
    with pytest.raises(ValidationError, match="exists"):
        register_model(data=model_data, by=manager, now=now)


def test_a_correction_says_what_and_why(
    model: GaugeModel, model_data: ModelData, manager: Person, now: datetime
) -> None:
    finer = replace(model_data, resolution=Decimal("0.005"))
    with pytest.raises(ReasonMissing):
        change_model(model=model, data=finer, reason="", by=manager, now=now)
    with pytest.raises(NothingChanged):
        change_model(model=model, data=model_data, reason="look", by=manager, now=now)
    change_model(model=model, data=finer, reason="data sheet misread", by=manager, now=now)
    entry = about(f"model:{model.pk}").first()
    assert entry is not None
    assert (entry.before, entry.after) == ({"resolution": "0.01"}, {"resolution": "0.005"})
