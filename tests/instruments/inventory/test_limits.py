"""Limits: dated sets of lines, the gauge's own before its model's, and the line that reaches a length."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from instruments.inventory.models import Gauge, GaugeModel, LimitSet
from instruments.inventory.operations import LimitsData, set_limits, withdraw_limits
from instruments.inventory.operations.limits import (
    LimitsOfOne,
    NoLimits,
    NoOwnLimits,
    SourceMissing,
)
from instruments.inventory.queries import limits_at, limits_for
from labsys.accounts.models import Person
from labsys.journal.roles import NotAllowed
from labsys.laboratory.limit_rows import LimitRowFault
from labsys.metrology.limits import Limits

D = Decimal
DAY = timedelta(days=1)


def line(function: str, up_to: str, lower: str | None, upper: str | None) -> dict[str, Any]:
    return {"function": function, "up_to_mm": up_to, "lower_mm": lower, "upper_mm": upper}


# Invented for the test; no standard's table.
ROWS = [
    line("outside", "300", "-0.04", "0.04"),
    line("outside", "150", "-0.03", "0.03"),
    line("inside", "150", "-0.05", "0.05"),
    line("depth", "150", None, "0.06"),
]


@pytest.fixture
def set_rows(manager: Person, now: datetime) -> Callable[..., LimitSet]:
    def act(**changes: Any) -> LimitSet:
        said = {name: changes.pop(name) for name in ("rows", "source", "confirmed") if name in changes}
        data = LimitsData(**{"rows": ROWS, "source": "own decision", **said})
        start = changes.pop("valid_from", now)
        return set_limits(**changes, data=data, valid_from=start, by=manager, now=start)

    return act


def test_a_line_reaches_to_its_length_and_no_further() -> None:
    assert limits_at(ROWS, "outside", D(150)) == Limits(D("-0.03"), D("0.03"))
    assert limits_at(ROWS, "outside", D("150.000000001")) == Limits(D("-0.04"), D("0.04"))
    assert limits_at(ROWS, "outside", D(0)) == Limits(D("-0.03"), D("0.03"))
    assert limits_at(ROWS, "outside", D(301)) is None
    assert limits_at(ROWS, "step", D(10)) is None
    assert limits_at(ROWS, "depth", D(10)) == Limits(None, D("0.06"))


def test_a_small_bore_takes_the_inside_line_unless_it_has_one() -> None:
    assert limits_at(ROWS, "small_bore", D(5)) == Limits(D("-0.05"), D("0.05"))
    own = [*ROWS, line("small_bore", "6", "-0.02", "0.02")]
    assert limits_at(own, "small_bore", D(5)) == Limits(D("-0.02"), D("0.02"))


def test_rows_travel_in_order_and_exact(
    set_rows: Callable[..., LimitSet], gauge: Gauge, now: datetime
) -> None:
    set_rows(model=gauge.model)
    found = limits_for(gauge, now)
    assert found is not None
    assert found.rows == [ROWS[3], ROWS[2], ROWS[1], ROWS[0]]
    assert (found.source, found.confirmed, found.own) == ("own decision", False, False)


def test_own_limits_win_until_given_up(
    set_rows: Callable[..., LimitSet], gauge: Gauge, manager: Person, now: datetime
) -> None:
    set_rows(model=gauge.model)
    own = [line("outside", "150", "-0.01", "0.01")]
    set_rows(gauge=gauge, rows=own, source="drawing 12", confirmed=True, valid_from=now + DAY)
    before, after = limits_for(gauge, now + DAY - DAY / 2), limits_for(gauge, now + DAY)
    assert before is not None and not before.own
    assert after is not None and (after.own, after.rows, after.confirmed) == (True, own, True)
    withdraw_limits(gauge=gauge, reason="drawing withdrawn", by=manager, now=now + 2 * DAY)
    later = limits_for(gauge, now + 2 * DAY)
    assert later is not None and not later.own
    still = limits_for(gauge, now + 2 * DAY - DAY / 2)
    assert still is not None and still.own
    with pytest.raises(NoOwnLimits):
        withdraw_limits(gauge=gauge, reason="again", by=manager, now=now + 3 * DAY)


def test_limits_of_a_day_are_those_known_then(
    set_rows: Callable[..., LimitSet], gauge: Gauge, manager: Person, now: datetime
) -> None:
    assert limits_for(gauge, now) is None
    data = LimitsData(ROWS, "later")
    set_limits(model=gauge.model, data=data, valid_from=now, by=manager, now=now + 5 * DAY)
    assert limits_for(gauge, now + DAY) is None
    assert limits_for(gauge, now + DAY, known_at=now + 5 * DAY) is not None


@pytest.mark.parametrize(
    ("rows", "line_number", "says"),
    [
        ([line("squint", "150", "-1", "1")], 1, "no measuring function"),
        ([ROWS[0], line("outside", "0", "-1", "1")], 2, "above 0"),
        ([ROWS[0], line("outside", "", "-1", "1")], 2, "above 0"),
        ([line("outside", "150", "", None)], 1, "neither"),
        ([line("outside", "150", "0.03", "-0.03")], 1, "above the lower one"),
        ([line("outside", "150", "0.03", "0.03")], 1, "above the lower one"),
        ([line("outside", "150", "-0,03", "0.03")], 1, "no number"),
        ([line("outside", "150", "-0.0300000001", "0.03")], 1, "nine decimals"),
        ([line("outside", "150", "NaN", "0.03")], 1, "nine decimals"),
        ([ROWS[0], ROWS[1], line("outside", "150.0", "-1", "1")], 3, "another line"),
    ],
)
def test_a_wrong_line_is_named(
    rows: list[dict[str, Any]],
    line_number: int,
    says: str,
    model: GaugeModel,
    set_rows: Callable[..., LimitSet],
) -> None:
    with pytest.raises(LimitRowFault, match=says) as refusal:
        set_rows(model=model, rows=rows)
    assert refusal.value.data["line"] == line_number
    assert not LimitSet.objects.exists()


def test_limits_want_lines_a_source_and_one_target(
    gauge: Gauge, model: GaugeModel, set_rows: Callable[..., LimitSet]
) -> None:
    with pytest.raises(NoLimits):
        set_rows(model=model, rows=[])
    with pytest.raises(SourceMissing):
        set_rows(model=model, source="  ")
    with pytest.raises(LimitsOfOne):
        set_rows(model=model, gauge=gauge)
    with pytest.raises(LimitsOfOne):
        set_rows()


@pytest.mark.parametrize("role", ["technician", "floor", "auditor"])
def test_limits_are_set_by_who_answers_for_them(
    role: str, model: GaugeModel, person: Callable[[str], Person], now: datetime
) -> None:
    with pytest.raises(NotAllowed):
        set_limits(model=model, data=LimitsData(ROWS, "own"), valid_from=now, by=person(role), now=now)
