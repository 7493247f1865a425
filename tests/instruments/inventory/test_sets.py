"""Members of a set and pairs with setting masters."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from instruments.inventory.models import Gauge
from instruments.inventory.operations import add_member, pair, unpair, withdraw_member
from instruments.inventory.operations.reasons import ReasonMissing
from instruments.inventory.operations.sets import AlreadyPaired, AlreadyWithdrawn, NotPaired, PairedWithItself
from labsys.accounts.models import Person

DAY = timedelta(days=1)


def test_a_member_is_withdrawn_once_and_stays(gauge: Gauge, technician: Person, now: datetime) -> None:
    pin = add_member(gauge=gauge, label=" 5.00 ", nominal_mm=Decimal(5), by=technician, now=now)
    assert pin.label == "5.00"
    gone = withdraw_member(member=pin, reason="worn", by=technician, now=now + DAY)
    assert (gone.withdrawn_on, gone.withdrawn_reason) == (date(2026, 3, 3), "worn")
    with pytest.raises(AlreadyWithdrawn, match="2026-03-03"):
        withdraw_member(member=pin, reason="again", by=technician, now=now + 2 * DAY)
    assert gauge.members.get() == pin


def test_a_label_names_one_member(gauge: Gauge, technician: Person, now: datetime) -> None:
    pin = add_member(gauge=gauge, label="5.00", nominal_mm=None, by=technician, now=now)
    with pytest.raises(ValidationError, match="already has a member"):
        add_member(gauge=gauge, label="5.00", nominal_mm=None, by=technician, now=now)
    with pytest.raises(ReasonMissing):
        withdraw_member(member=pin, reason=" ", by=technician, now=now)


def test_a_pair_parts_once_and_may_meet_again(
    gauge: Gauge, make_gauge: Callable[..., Gauge], technician: Person, now: datetime
) -> None:
    master = make_gauge("SET-25")
    joined = pair(gauge=gauge, master=master, by=technician, now=now)
    with pytest.raises(AlreadyPaired, match="2026-03-02"):
        pair(gauge=gauge, master=master, by=technician, now=now + DAY)
    unpair(pairing=joined, reason="master lost", by=technician, now=now + DAY)
    with pytest.raises(NotPaired, match="2026-03-03"):
        unpair(pairing=joined, reason="again", by=technician, now=now + DAY)
    assert pair(gauge=gauge, master=master, by=technician, now=now + 2 * DAY).pk != joined.pk


def test_nothing_is_its_own_master(gauge: Gauge, technician: Person, now: datetime) -> None:
    with pytest.raises(PairedWithItself):
        pair(gauge=gauge, master=gauge, by=technician, now=now)
