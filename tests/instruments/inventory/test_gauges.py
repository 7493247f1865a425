"""Registering a gauge and changing what is written about it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from django.core.exceptions import ValidationError

from instruments.inventory.models import Gauge, GaugeModel
from instruments.inventory.operations import GaugeData, change_gauge, register_gauge
from instruments.inventory.operations.gauges import FunctionNotOfModel, NoSuchStandard, TagStays
from instruments.inventory.operations.models import UnknownFunction
from instruments.inventory.operations.reasons import NothingChanged, ReasonMissing
from instruments.inventory.queries import by_tag, description_at, state_of
from labsys.accounts.models import Person
from labsys.journal.queries import about
from labsys.journal.roles import NotAllowed
from labsys.laboratory.models import Tag
from labsys.laboratory.operations import TagTaken


def test_a_new_gauge_is_not_accepted_and_has_its_models_functions(
    gauge: Gauge, model: GaugeModel, now: datetime
) -> None:
    assert state_of(gauge, now) == "new"
    assert gauge.functions == model.functions
    assert len(gauge.tag.code) == 32


def test_registering_leaves_its_entry(gauge: Gauge) -> None:
    entry = about(f"gauge:{gauge.pk}").get()
    assert entry.after is not None
    assert (entry.act, entry.after["tag"], entry.after["state"]) == (
        "inventory.register-gauge",
        "CAL-0001",
        "new",
    )


def test_before_it_was_registered_it_had_no_state(gauge: Gauge, now: datetime) -> None:
    assert state_of(gauge, now - timedelta(microseconds=1)) == ""
    assert description_at(gauge, now - timedelta(microseconds=1)) is None


def test_a_tag_is_given_once_whatever_its_capitals(gauge: Gauge, make_gauge: Callable[..., Gauge]) -> None:
    with pytest.raises(TagTaken):
        make_gauge("cal-0001")


def test_a_tag_is_found_whatever_its_capitals(gauge: Gauge) -> None:
    assert by_tag(" cal-0001 ") == gauge
    assert by_tag("CAL-0002") is None


def test_a_gauge_may_share_the_tag_of_a_standard_once(
    make_gauge: Callable[..., Gauge], now: datetime
) -> None:
    tag = Tag.objects.create(text="BLK-7", created_at=now)
    assert make_gauge("BLK-7", shares_tag=True).tag == tag
    with pytest.raises(TagTaken):
        make_gauge("BLK-7", shares_tag=True)
    with pytest.raises(NoSuchStandard):
        make_gauge("BLK-8", shares_tag=True)


def test_functions_come_from_the_model(make_gauge: Callable[..., Gauge], model: GaugeModel) -> None:
    assert make_gauge(functions=("depth", "outside")).functions == ["outside", "depth"]
    with pytest.raises(FunctionNotOfModel, match="small_bore"):
        make_gauge("CAL-2", functions=("small_bore",))
    with pytest.raises(UnknownFunction, match="squint"):
        make_gauge("CAL-3", functions=("squint",))


def test_no_calibration_wants_its_reason(make_gauge: Callable[..., Gauge]) -> None:
    with pytest.raises(ValidationError, match="reason why"):
        make_gauge(calibration_needed=False)
    assert make_gauge(calibration_needed=False, no_calibration_reason="indication only").pk


def test_a_foreign_owner_is_named(make_gauge: Callable[..., Gauge]) -> None:
    with pytest.raises(ValidationError, match="Name the owner"):
        make_gauge(owner="customer")


def test_a_change_keeps_before_and_after(
    gauge: Gauge, gauge_data: GaugeData, manager: Person, now: datetime
) -> None:
    later = now + timedelta(days=3)
    change_gauge(
        gauge=gauge, data=replace(gauge_data, serial="S-2"), reason=" misread ", by=manager, now=later
    )
    entry = about(f"gauge:{gauge.pk}").first()
    assert entry is not None
    assert (entry.reason, entry.before, entry.after) == ("misread", {"serial": "S-1"}, {"serial": "S-2"})
    gauge.refresh_from_db()
    past, present = description_at(gauge, later - timedelta(seconds=1)), description_at(gauge, later)
    assert past is not None and present is not None
    assert (past["serial"], present["serial"]) == ("S-1", "S-2")


def test_a_change_wants_a_reason_and_a_difference(
    gauge: Gauge, gauge_data: GaugeData, manager: Person, now: datetime
) -> None:
    with pytest.raises(ReasonMissing):
        change_gauge(gauge=gauge, data=replace(gauge_data, serial="S-2"), reason=" ", by=manager, now=now)
    with pytest.raises(NothingChanged):
        change_gauge(gauge=gauge, data=gauge_data, reason="tidying", by=manager, now=now)
    gauge.refresh_from_db()
    assert gauge.serial == "S-1"


def test_a_tag_stays_for_life(gauge: Gauge, gauge_data: GaugeData, manager: Person, now: datetime) -> None:
    with pytest.raises(TagStays):
        change_gauge(
            gauge=gauge, data=replace(gauge_data, tag="CAL-9"), reason="new label", by=manager, now=now
        )


@pytest.mark.parametrize("role", ["reviewer", "floor", "auditor", "administrator"])
def test_only_manager_and_technician_register(
    role: str, person: Callable[[str], Person], gauge_data: GaugeData, now: datetime
) -> None:
    with pytest.raises(NotAllowed):
        register_gauge(data=gauge_data, by=person(role), now=now)
    assert not Gauge.objects.exists()
