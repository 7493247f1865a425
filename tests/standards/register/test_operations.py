"""Acts on the register: what they leave behind, and every named refusal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from labsys.laboratory.models import Tag
from labsys.laboratory.operations import TagTaken
from standards.register import operations as acts
from standards.register import queries
from standards.register.models import Calibration, Standard
from standards.register.operations import ElementData, StandardData, ValueData
from tests.standards.conftest import REGISTERED, at, block, values

D = Decimal
Calibrate = Callable[..., Calibration]


def test_a_registered_standard_is_new_and_on_the_journal(blocks: Standard) -> None:
    assert queries.state_of(blocks, REGISTERED) == "new"
    assert [str(element.nominal_mm.normalize()) for element in blocks.elements.all()] == [
        "1E+1",
        "25",
        "1E+2",
    ]
    subjects = JournalEntry.objects.values_list("subject", "act")
    assert (f"standard:{blocks.pk}", "register.register-standard") in subjects
    assert subjects.filter(act="register.add-element").count() == 3


def test_a_tag_is_given_out_once(blocks: Standard, blocks_data: StandardData, manager: Person) -> None:
    with pytest.raises(TagTaken):
        acts.register_standard(data=replace(blocks_data, serial="9"), by=manager, now=REGISTERED)
    assert Standard.objects.count() == 1


def test_a_gauge_that_serves_as_a_standard_keeps_its_tag(blocks_data: StandardData, manager: Person) -> None:
    tag = Tag.objects.create(text="CAL-0001", created_at=REGISTERED)
    standard = acts.register_standard(data=replace(blocks_data, tag=tag), by=manager, now=REGISTERED)
    assert standard.tag == tag
    with pytest.raises(ValidationError):
        acts.register_standard(data=replace(blocks_data, tag=tag), by=manager, now=REGISTERED)


def test_only_the_manager_registers(blocks_data: StandardData, technician: Person, reviewer: Person) -> None:
    for somebody in (technician, reviewer):
        with pytest.raises(NotAllowed):
            acts.register_standard(data=blocks_data, by=somebody, now=REGISTERED)


def test_an_element_has_its_own_label_and_a_known_function(blocks: Standard, manager: Person) -> None:
    with pytest.raises(ValidationError, match="already has an element with that label"):
        acts.add_element(standard=blocks, data=block("25"), by=manager, now=REGISTERED)
    with pytest.raises(acts.UnknownFunction, match="outside, inside"):
        acts.add_element(standard=blocks, data=block("30", "sideways"), by=manager, now=REGISTERED)
    with pytest.raises(ValidationError, match="element_nominal_positive"):
        acts.add_element(standard=blocks, data=block("0"), by=manager, now=REGISTERED)


def test_a_calibration_is_due_an_interval_later(blocks: Standard, reviewer: Person) -> None:
    row = acts.record_calibration(
        standard=blocks,
        calibrated_on=date(2024, 2, 29),
        values=values(blocks),
        evidence="session:1",
        by=reviewer,
        now=at("2024-03-01"),
    )
    assert (row.due_on, row.accepted_at, row.values.count()) == (date(2025, 2, 28), None, 3)


BAD: list[tuple[type[LabError], str, dict[str, Any]]] = [
    (acts.UncertaintyMissing, "25", {"U_mm": None}),
    (acts.UncertaintyMissing, "25", {"k": None}),
    (acts.UncertaintyMissing, "25", {"U_mm": D(0)}),
    (acts.UncertaintyMissing, "25", {"basis": "grade-limit"}),
    (acts.DeviationImplausible, "25", {"deviation_mm": D("0.6")}),
    (acts.DeviationImplausible, "25", {"deviation_mm": D("NaN")}),
    (acts.DeviationImplausible, "25", {"U_mm": D(50)}),
    (acts.ValueTooFine, "25", {"deviation_mm": D("1e-10")}),
]


@pytest.mark.parametrize(("refusal", "label", "change"), BAD)
def test_a_value_that_cannot_stand_names_its_element(
    refusal: type[LabError], label: str, change: dict[str, Any], blocks: Standard, reviewer: Person
) -> None:
    given = [replace(one, **change) if one.element.label == label else one for one in values(blocks)]
    with pytest.raises(refusal, match=label) as refused:
        acts.record_calibration(
            standard=blocks,
            calibrated_on=date(2024, 2, 1),
            values=tuple(given),
            evidence="",
            by=reviewer,
            now=at("2024-02-01"),
        )
    assert refused.value.data["label"] == label
    assert not Calibration.objects.exists()


def test_values_belong_to_the_standard_once_and_not_to_tomorrow(
    blocks: Standard, make_standard: Callable[..., Standard], calibrate: Calibrate, reviewer: Person
) -> None:
    other = make_standard("GB-02", serial="4712")
    with pytest.raises(acts.ElementOfAnotherStandard, match="GB-01"):
        calibrate(blocks, "2024-02-01", given=values(other))
    with pytest.raises(acts.ElementTwice):
        calibrate(blocks, "2024-02-01", given=values(blocks)[:1] * 2)
    with pytest.raises(acts.NoValues):
        calibrate(blocks, "2024-02-01", given=())
    with pytest.raises(acts.CalibratedInTheFuture, match="2024-02-02"):
        acts.record_calibration(
            standard=blocks,
            calibrated_on=date(2024, 2, 2),
            values=values(blocks),
            evidence="",
            by=reviewer,
            now=at("2024-02-01", 23),
        )


def test_a_grade_limit_stands_in_for_a_calibrated_value(blocks: Standard, calibrate: Calibrate) -> None:
    element = blocks.elements.get(label="25")
    given = (ValueData(element, D(0), basis="grade-limit", limit_mm=D("0.0003")),)
    calibrate(blocks, "2024-02-01", given=given)
    value = queries.require_value(element, at("2024-03-01"))
    assert (value.basis, value.limit_mm, value.U_mm) == ("grade-limit", D("0.0003"), None)


def test_a_decision_is_made_once(blocks: Standard, calibrate: Calibrate, reviewer: Person) -> None:
    row = calibrate(blocks, "2024-02-01")
    with pytest.raises(acts.AlreadyDecided, match="accepted before"):
        acts.mark_rejected(calibration=row, by=reviewer, now=at("2024-02-02"))
    refused = calibrate(blocks, "2024-03-01", accepted=None)
    acts.mark_rejected(calibration=refused, by=reviewer, now=at("2024-03-02"))
    with pytest.raises(acts.AlreadyDecided, match="rejected before"):
        acts.mark_accepted(calibration=refused, by=reviewer, now=at("2024-03-03"))


def test_a_technician_records_but_does_not_accept(
    blocks: Standard, calibrate: Calibrate, technician: Person
) -> None:
    row = calibrate(blocks, "2024-02-01", accepted=None)
    with pytest.raises(NotAllowed):
        acts.mark_accepted(calibration=row, by=technician, now=at("2024-02-02"))
    row.refresh_from_db()
    assert row.accepted_at is None


def test_acceptance_puts_a_new_standard_into_service_and_only_then(
    blocks: Standard, calibrate: Calibrate, technician: Person
) -> None:
    calibrate(blocks, "2024-02-01", accepted="2024-02-05")
    assert queries.state_of(blocks, at("2024-02-05", 12)) == "new"
    assert queries.state_of(blocks, at("2024-02-05", 13)) == "in-service"
    acts.change_state(standard=blocks, state="away", reason="Sent out.", by=technician, now=at("2025-01-10"))
    calibrate(blocks, "2025-01-20")
    assert queries.state_of(blocks, at("2025-01-21")) == "away"


def test_into_service_leads_only_a_verification(
    blocks: Standard, calibrate: Calibrate, technician: Person
) -> None:
    calibrate(blocks, "2024-02-01")
    leave = at("2024-03-01")
    acts.change_state(standard=blocks, state="out-of-service", reason="Dropped.", by=technician, now=leave)
    back = at("2024-03-02")
    with pytest.raises(acts.ReturnNeedsVerification):
        acts.change_state(standard=blocks, state="in-service", reason="Fine.", by=technician, now=back)
    with pytest.raises(acts.ReasonMissing):
        acts.return_to_service(standard=blocks, verification=" ", by=technician, now=back)
    row = acts.return_to_service(
        standard=blocks, verification="25 mm compared with GB-02: no change.", by=technician, now=back
    )
    assert queries.state_of(blocks, back) == row.state == "in-service"


def test_nothing_returns_without_a_calibration_that_holds(
    blocks: Standard, calibrate: Calibrate, technician: Person
) -> None:
    calibrate(blocks, "2024-02-01")
    away = at("2025-01-01")
    acts.change_state(standard=blocks, state="away", reason="Sent out.", by=technician, now=away)

    def back(now: datetime) -> object:
        return acts.return_to_service(standard=blocks, verification="Looked at.", by=technician, now=now)

    with pytest.raises(acts.NothingToReturnWith):
        back(at("2025-02-02", 0))
    assert back(at("2025-02-01", 23))


@pytest.mark.parametrize("wanted", ["new", "nonsense", "in-service"])
def test_a_scrapped_standard_stays_scrapped(wanted: str, blocks: Standard, technician: Person) -> None:
    acts.change_state(standard=blocks, state="scrapped", reason="Worn.", by=technician, now=REGISTERED)
    with pytest.raises((acts.StateNotReachable, acts.ReturnNeedsVerification)):
        acts.change_state(standard=blocks, state=wanted, reason="No.", by=technician, now=at("2024-02-01"))
    with pytest.raises(acts.StateNotReachable, match="Possible: nothing"):
        acts.return_to_service(standard=blocks, verification="No.", by=technician, now=at("2024-02-01"))


def test_a_refusal_is_on_the_journal(blocks: Standard, technician: Person) -> None:
    with pytest.raises(acts.ReturnNeedsVerification):
        acts.change_state(standard=blocks, state="in-service", reason="x", by=technician, now=REGISTERED)
    entry = JournalEntry.objects.get(outcome="refused")
    assert entry.after is not None
    assert (entry.subject, entry.after["code"]) == (f"standard:{blocks.pk}", "return-needs-verification")


def test_a_change_is_on_the_journal_with_before_after_and_reason(
    blocks: Standard, blocks_data: StandardData, calibrate: Calibrate, manager: Person
) -> None:
    row = calibrate(blocks, "2024-02-01")
    changed = replace(blocks_data, interval_months=24, grade="0")
    now = at("2024-03-01")
    acts.change_standard(standard=blocks, data=changed, reason="Three checks, no drift.", by=manager, now=now)
    entry = JournalEntry.objects.get(act="register.change-standard")
    assert (entry.reason, entry.before, entry.after) == (
        "Three checks, no drift.",
        {"interval_months": 12, "grade": "1"},
        {"interval_months": 24, "grade": "0"},
    )
    row.refresh_from_db()
    assert row.due_on == date(2025, 2, 1)
    blocks.refresh_from_db()
    assert calibrate(blocks, "2024-04-01").due_on == date(2026, 4, 1)


def test_a_change_needs_a_reason_and_changes_something(
    blocks: Standard, blocks_data: StandardData, manager: Person, technician: Person
) -> None:
    def change(by: Person, reason: str, **changes: Any) -> object:
        data = replace(blocks_data, **changes)
        return acts.change_standard(standard=blocks, data=data, reason=reason, by=by, now=REGISTERED)

    with pytest.raises(acts.ReasonMissing):
        change(manager, " ", grade="0")
    with pytest.raises(acts.NothingChanged, match="GB-01"):
        change(manager, "No change.")
    with pytest.raises(NotAllowed):
        change(technician, "Mine.", grade="0")
    with pytest.raises(ValidationError):
        change(manager, "Too short.", interval_months=0)


def test_an_elements_nominal_stands_once_it_has_values(
    blocks: Standard, calibrate: Calibrate, manager: Person
) -> None:
    element = blocks.elements.get(label="25")

    def change(data: ElementData) -> object:
        return acts.change_element(
            element=element, data=data, reason="Typed wrong.", by=manager, now=REGISTERED
        )

    assert change(replace(block("25.5"), label="25"))
    with pytest.raises(acts.UnknownFunction):
        change(block("25.5", "sideways"))
    calibrate(blocks, "2024-02-01")
    with pytest.raises(acts.NominalStands, match="25.5 mm; its nominal stands"):
        change(replace(block("25"), label="25"))
    assert change(replace(block("25.5", "inside"), label="25"))
    with pytest.raises(acts.NothingChanged):
        change(replace(block("25.5", "inside"), label="25"))
    element.refresh_from_db()
    assert (f"{element.nominal_mm.normalize():f}", element.functions) == ("25.5", ["inside"])
