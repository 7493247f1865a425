"""Reads as of any instant: states, values, usability, what may be planned with, what falls due."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from labsys.accounts.models import Person
from standards.register import operations as acts
from standards.register import queries
from standards.register.models import Calibration, Standard
from tests.standards.conftest import at, values

D = Decimal
Calibrate = Callable[..., Calibration]


@pytest.fixture
def history(blocks: Standard, calibrate: Calibrate) -> Standard:
    """A set calibrated twice: +0.1 µm, then after eleven months +0.3 µm, accepted a week later."""
    calibrate(blocks, "2024-02-01", deviation="0.0001")
    calibrate(blocks, "2025-01-10", deviation="0.0003", accepted="2025-01-17")
    return blocks


@pytest.mark.parametrize(
    ("day", "hour", "deviation"),
    [
        ("2024-02-01", 12, None),
        ("2024-02-01", 13, "0.0001"),
        ("2025-01-17", 12, "0.0001"),
        ("2025-01-17", 13, "0.0003"),
    ],
)
def test_the_value_in_force_changes_at_acceptance(
    day: str, hour: int, deviation: str | None, history: Standard
) -> None:
    element = history.elements.get(label="25")
    value = queries.value_in_force(element, at(day, hour))
    assert (value.deviation_mm if value else None) == (D(deviation) if deviation else None)
    assert queries.values_in_force([element], at(day, hour)) == ({element.pk: value} if value else {})


def test_a_late_certificate_of_an_older_calibration_changes_nothing(
    history: Standard, calibrate: Calibrate
) -> None:
    calibrate(history, "2024-06-01", deviation="0.0009", accepted="2025-03-01")
    found = queries.calibration_in_force(history, at("2025-04-01"))
    assert found is not None
    assert found.calibrated_on == date(2025, 1, 10)
    element = history.elements.get(label="25")
    assert queries.require_value(element, at("2025-04-01")).deviation_mm == D("0.0003")


def test_a_replaced_block_has_its_own_calibration(history: Standard, calibrate: Calibrate) -> None:
    only = tuple(one for one in values(history, "0.0007") if one.element.label == "100")
    calibrate(history, "2025-09-01", given=only)
    now = at("2025-10-01")
    held = {
        one.element.label: one.value.deviation_mm for one in queries.elements_at(history, now) if one.value
    }
    assert held == {"10": D("0.0003"), "25": D("0.0003"), "100": D("0.0007")}
    # The set as a whole holds on; a block on the older calibration doesn't.
    late = at("2026-02-01")
    assert queries.require_usable(history, late)
    assert queries.require_value(history.elements.get(label="100"), late)
    with pytest.raises(queries.StandardOverdue, match="2026-01-10"):
        queries.require_value(history.elements.get(label="25"), late)
    assert [one.element.label for one in queries.available("outside", late)] == ["100"]


def test_a_rejected_or_waiting_calibration_gives_no_value(
    history: Standard, calibrate: Calibrate, reviewer: Person
) -> None:
    waiting = calibrate(history, "2025-05-01", deviation="0.0099", accepted=None)
    element = history.elements.get(label="25")
    assert queries.require_value(element, at("2025-06-01")).deviation_mm == D("0.0003")
    acts.mark_rejected(calibration=waiting, by=reviewer, now=at("2025-06-02"))
    assert queries.require_value(element, at("2025-06-03")).deviation_mm == D("0.0003")


def test_usable_through_the_end_of_the_due_day(history: Standard) -> None:
    assert queries.usability(history, at("2026-01-10", 23)).ok
    found = queries.usability(history, at("2026-01-11", 0))
    assert (found.ok, found.code) == (False, "standard-overdue")
    assert "held through 2026-01-10" in found.sentence
    with pytest.raises(queries.StandardOverdue):
        queries.require_usable(history, at("2026-01-11", 0))


def test_the_due_day_ends_in_the_laboratorys_zone(history: Standard, settings: Any) -> None:
    settings.LAB_ZONE = "America/Chicago"
    assert queries.usability(history, at("2026-01-11", 5)).ok
    assert not queries.usability(history, at("2026-01-11", 6)).ok


def test_not_usable_before_the_review(blocks: Standard, calibrate: Calibrate) -> None:
    calibrate(blocks, "2024-02-01", accepted=None)
    assert queries.usability(blocks, at("2024-02-02")).code == "standard-not-reviewed"
    with pytest.raises(queries.StandardNotReviewed, match="GB-01"):
        queries.require_usable(blocks, at("2024-02-02"))
    assert queries.usability(blocks, at("2023-01-01")).code == "standard-not-reviewed"


def test_not_usable_out_of_service(history: Standard, technician: Person) -> None:
    now = at("2025-02-01")
    acts.change_state(standard=history, state="out-of-service", reason="Dropped.", by=technician, now=now)
    with pytest.raises(queries.StandardOutOfService, match="out of service"):
        queries.require_usable(history, now)
    assert queries.usability(history, at("2025-01-31")).ok
    assert queries.available("outside", now) == []
    assert len(queries.available("outside", at("2025-01-31"))) == 3


def test_a_withdrawn_element_is_out_of_range_and_the_set_goes_on(
    history: Standard, technician: Person
) -> None:
    element = history.elements.get(label="25")
    acts.withdraw_element(element=element, reason="Scratched.", by=technician, now=at("2025-02-01"))
    with pytest.raises(queries.StandardOutOfRange, match="withdrawn"):
        queries.require_value(element, at("2025-02-01"))
    assert [one.element.label for one in queries.available("outside", at("2025-02-01"))] == ["10", "100"]
    assert [one.in_use for one in queries.elements_at(history, at("2025-02-01"))] == [True, False, True]
    assert queries.require_value(element, at("2025-01-31"))
    with pytest.raises(acts.NotInUse):
        acts.withdraw_element(element=element, reason="Again.", by=technician, now=at("2025-02-02"))
    acts.restore_element(element=element, reason="It was dirt.", by=technician, now=at("2025-02-03"))
    assert queries.require_value(element, at("2025-02-03"))


def test_an_element_without_value_is_out_of_range(history: Standard, manager: Person) -> None:
    from tests.standards.conftest import block

    element = acts.add_element(standard=history, data=block("50"), by=manager, now=at("2025-02-01"))
    with pytest.raises(queries.StandardOutOfRange, match="no accepted value"):
        queries.require_value(element, at("2025-02-01"))


def test_what_is_available_serves_the_function(history: Standard) -> None:
    now = at("2025-02-01")
    found = queries.available("inside", now)
    assert [(one.element.label, one.value.deviation_mm, one.standard) for one in found] == [
        ("10", D("0.0003"), history)
    ]
    assert queries.available("depth", now) == []
    assert queries.available("outside", at("2026-01-11")) == []


def test_what_is_available_costs_two_queries(
    history: Standard,
    make_standard: Callable[..., Standard],
    calibrate: Calibrate,
    django_assert_num_queries: Any,
) -> None:
    for number in range(2, 6):
        calibrate(make_standard(f"GB-0{number}"), "2024-12-01")
    with django_assert_num_queries(2):
        found = queries.available("outside", at("2025-02-01"))
        assert [one.standard.tag.text for one in found[:2]] == ["GB-01", "GB-02"]
    assert len(found) == 15


def test_elements_cost_three_queries(history: Standard, django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(3):
        rows = queries.elements_at(history, at("2025-02-01"))
        assert [[str(v.calibration.calibrated_on) for v in row.history] for row in rows] == [
            ["2025-01-10", "2024-02-01"]
        ] * 3


def test_what_is_overdue_and_what_lapses(
    history: Standard, make_standard: Callable[..., Standard], calibrate: Calibrate, technician: Person
) -> None:
    other, away = make_standard("GB-02"), make_standard("GB-03")
    calibrate(other, "2024-06-01")
    calibrate(away, "2024-03-01")
    acts.change_state(standard=away, state="away", reason="Sent.", by=technician, now=at("2024-12-01"))
    assert [str(one.standard.tag) for one in queries.overdue(date(2025, 6, 1))] == []
    assert [str(one.standard.tag) for one in queries.overdue(date(2025, 6, 2))] == ["GB-02"]
    lapsing = queries.lapsing(date(2025, 6, 1), date(2026, 1, 10))
    assert [(str(one.standard.tag), one.due_on) for one in lapsing] == [
        ("GB-02", date(2025, 6, 1)),
        ("GB-01", date(2026, 1, 10)),
    ]
    assert queries.lapsing(date(2025, 6, 2), date(2026, 1, 9)) == ()


def test_states_of_a_span(history: Standard, technician: Person) -> None:
    acts.change_state(standard=history, state="away", reason="Sent.", by=technician, now=at("2025-02-01", 12))
    assert queries.states_during(history, at("2025-02-01", 0), at("2025-02-01", 23)) == {"in-service", "away"}
    assert queries.states_during(history, at("2025-02-01", 12), at("2025-02-02")) == {"away"}
    assert queries.states_during(history, at("2020-01-01"), at("2020-01-02")) == set()
