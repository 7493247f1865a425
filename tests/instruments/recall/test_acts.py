"""The acts of recall: what blocks a gauge, what lets it back into service, call-ins, receipt and return."""

from __future__ import annotations

import hashlib
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile

from instruments.inventory.models import Gauge
from instruments.inventory.operations.custody import BeforeTheLastEvent, InTheFuture, NotYourGauge
from instruments.recall import operations as recall
from instruments.recall import queries
from instruments.recall.models import CallIn, Hold, OutsideCertificate
from labsys.accounts.models import Person
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from labsys.laboratory.models import Place
from tests.instruments.recall.conftest import NOW, TODAY, MakeGauge, calibrate

HOUR = timedelta(hours=1)
People = dict[str, Person]


def word(gauge: Gauge, on: date = TODAY) -> str:
    return queries.standing(gauge, on).word


def receive(gauge: Gauge, people: People, bench: Place, at: Any = NOW, **changes: Any) -> None:
    said = {"condition": "Clean, complete.", "damaged": False, **changes}
    recall.receive(gauge=gauge, place=bench, at=at, by=people["technician"], now=at, **said)


def release(gauge: Gauge, people: People, now: Any) -> None:
    recall.release(gauge=gauge, handed_to_note="To the shift lead.", by=people["technician"], now=now)


# What is found bad is blocked at once


def test_as_found_beyond_the_limits_blocks_the_gauge_and_owes_a_case(gauge: Gauge, people: People) -> None:
    calibrate(
        gauge,
        NOW,
        by=people["manager"],
        as_found="out_of_tolerance",
        as_found_within_limits=False,
        adjusted=True,
    )
    hold = gauge.holds.get()
    assert (hold.kind, hold.owed, hold.lifted_at) == (Hold.Kind.OUT_OF_TOLERANCE, True, None)
    assert word(gauge) == "stop"
    assert queries.standing(gauge, TODAY).reason == "found out of tolerance"


def test_the_verdict_of_the_rule_alone_blocks_nothing_as_found(gauge: Gauge, people: People) -> None:
    """As found, the error against the plain limit decides, not the agreed rule with its guard."""
    calibrate(gauge, NOW, by=people["manager"], as_found="not_accepted", as_found_within_limits=True)
    assert not gauge.holds.exists()
    assert word(gauge) == "use"


@pytest.mark.parametrize(
    "as_left", ["not_decided", "not_accepted", "conditional_outside", "out_of_tolerance"]
)
def test_as_left_not_passing_stops_the_gauge(gauge: Gauge, people: People, as_left: str) -> None:
    calibrate(gauge, NOW, by=people["manager"], as_left=as_left)
    assert word(gauge) == "stop"
    data = recall.RestrictionData(
        text="Outside only, to 100 mm.", functions=("outside",), owner_consent="shift lead"
    )
    recall.restrict(gauge=gauge, data=data, reason="Inside jaws worn.", by=people["reviewer"], now=NOW + HOUR)
    answer = queries.standing(gauge, TODAY)
    assert (answer.word, answer.restriction) == ("restricted", "Outside only, to 100 mm.")


def test_an_older_restriction_does_not_excuse_a_bad_calibration(gauge: Gauge, people: People) -> None:
    data = recall.RestrictionData(text="Outside only.", functions=("outside",))
    recall.restrict(gauge=gauge, data=data, reason="Inside jaws worn.", by=people["reviewer"], now=NOW - HOUR)
    calibrate(gauge, NOW, by=people["manager"], as_left="out_of_tolerance")
    assert word(gauge) == "stop"


def test_a_restriction_names_functions_the_gauge_has(gauge: Gauge, people: People) -> None:
    data = recall.RestrictionData(text="Threads only.", functions=("thread",))
    with pytest.raises(recall.UnknownFunctions):
        recall.restrict(gauge=gauge, data=data, reason="x", by=people["reviewer"], now=NOW)


def test_a_restriction_is_lifted_by_a_row(gauge: Gauge, people: People) -> None:
    with pytest.raises(recall.NotRestricted):
        recall.lift_restriction(gauge=gauge, reason="Repaired.", by=people["reviewer"], now=NOW)
    data = recall.RestrictionData(text="Outside only.")
    recall.restrict(gauge=gauge, data=data, reason="Worn.", by=people["reviewer"], now=NOW)
    recall.lift_restriction(gauge=gauge, reason="Repaired.", by=people["reviewer"], now=NOW + HOUR)
    assert word(gauge) == "use"
    assert gauge.restrictions.count() == 2


def test_reported_damage_stops_any_gauge_at_once(make_gauge: MakeGauge, people: People) -> None:
    foreign = make_gauge(custodian=None)
    recall.report_damage(gauge=foreign, what="Jaw bent.", by=people["floor"], now=NOW)
    assert word(foreign) == "stop"
    assert foreign.holds.get().owed


def test_the_auditor_changes_nothing(gauge: Gauge, people: People) -> None:
    with pytest.raises(NotAllowed):
        recall.report_damage(gauge=gauge, what="x", by=people["auditor"], now=NOW)


# Refusal 10: return to service without verification


@pytest.mark.parametrize("kind", [Hold.Kind.OUT_OF_TOLERANCE, Hold.Kind.DAMAGE, Hold.Kind.FAILED_CHECK])
def test_a_hold_is_not_lifted_before_the_gauge_is_verified(
    gauge: Gauge, people: People, kind: Hold.Kind
) -> None:
    hold = recall.set_hold(gauge=gauge, kind=kind, reason="Doubt.", by=people["technician"], now=NOW)
    with pytest.raises(recall.LiftNotVerified):
        recall.lift_hold(hold=hold, reason="Looks fine.", by=people["manager"], now=NOW + HOUR)
    calibrate(gauge, NOW + 2 * HOUR, by=people["manager"])
    recall.lift_hold(hold=hold, reason="Calibrated.", by=people["manager"], now=NOW + 3 * HOUR)
    assert word(gauge) == "use"
    with pytest.raises(recall.HoldAlreadyLifted):
        recall.lift_hold(hold=hold, reason="Again.", by=people["manager"], now=NOW + 4 * HOUR)


def test_a_good_check_verifies_damage_but_never_out_of_tolerance(
    make_gauge: MakeGauge, people: People
) -> None:
    for kind, verified in [(Hold.Kind.DAMAGE, True), (Hold.Kind.OUT_OF_TOLERANCE, False)]:
        gauge = make_gauge()
        hold = recall.set_hold(gauge=gauge, kind=kind, reason="Doubt.", by=people["technician"], now=NOW)
        recall.record_use_check(gauge=gauge, good=True, by=people["floor"], now=NOW + HOUR)
        if verified:
            recall.lift_hold(hold=hold, reason="A scratch only.", by=people["manager"], now=NOW + 2 * HOUR)
            continue
        with pytest.raises(recall.LiftNotVerified):
            recall.lift_hold(hold=hold, reason="Checked.", by=people["manager"], now=NOW + 2 * HOUR)


def test_a_calibration_that_fails_verifies_nothing(gauge: Gauge, people: People) -> None:
    hold = recall.set_hold(
        gauge=gauge, kind=Hold.Kind.DAMAGE, reason="Dropped.", by=people["technician"], now=NOW
    )
    calibrate(gauge, NOW + HOUR, by=people["manager"], as_left="out_of_tolerance")
    with pytest.raises(recall.LiftNotVerified):
        recall.lift_hold(hold=hold, reason="Calibrated.", by=people["manager"], now=NOW + 2 * HOUR)


def test_what_was_measured_before_the_damage_verifies_nothing(gauge: Gauge, people: People) -> None:
    hold = recall.set_hold(
        gauge=gauge, kind=Hold.Kind.DAMAGE, reason="Dropped.", by=people["technician"], now=NOW
    )
    calibrate(gauge, NOW + HOUR, by=people["manager"], calibrated_on=TODAY - timedelta(days=1))
    with pytest.raises(recall.LiftNotVerified):
        recall.lift_hold(hold=hold, reason="Calibrated.", by=people["manager"], now=NOW + 2 * HOUR)


def test_adjusted_and_passing_in_the_same_calibration_lets_its_hold_be_lifted(
    gauge: Gauge, people: People
) -> None:
    calibrate(
        gauge,
        NOW,
        by=people["manager"],
        as_found="out_of_tolerance",
        as_found_within_limits=False,
        adjusted=True,
    )
    recall.lift_hold(hold=gauge.holds.get(), reason="Case closed.", by=people["manager"], now=NOW + HOUR)
    assert word(gauge) == "use"


def test_a_gauge_is_not_given_back_unverified(gauge: Gauge, people: People, bench: Place) -> None:
    receive(gauge, people, bench)
    with pytest.raises(recall.NotVerified):
        release(gauge, people, NOW + HOUR)
    calibrate(gauge, NOW + 2 * HOUR, by=people["manager"])
    release(gauge, people, NOW + 3 * HOUR)
    assert word(gauge) == "use"


def test_a_good_check_does_not_make_up_for_a_failed_calibration(
    gauge: Gauge, people: People, bench: Place
) -> None:
    receive(gauge, people, bench)
    calibrate(gauge, NOW + HOUR, by=people["manager"], as_left="out_of_tolerance")
    recall.record_use_check(gauge=gauge, good=True, by=people["technician"], now=NOW + 2 * HOUR)
    with pytest.raises(recall.NotVerified):
        release(gauge, people, NOW + 3 * HOUR)


def test_what_is_on_hold_stays_and_what_is_out_of_service_goes_back_as_that(
    gauge: Gauge, people: People, bench: Place
) -> None:
    receive(gauge, people, bench, damaged=True, condition="Jaw bent.")
    with pytest.raises(recall.NotVerified) as refused:
        release(gauge, people, NOW + HOUR)
    assert "reported damage" in str(refused.value)
    recall.change_state(
        gauge=gauge,
        state="out-of-service",
        reason="Not worth a repair.",
        by=people["technician"],
        now=NOW + HOUR,
    )
    release(gauge, people, NOW + 2 * HOUR)
    assert queries.standing(gauge, TODAY).reason == "out of service"


@pytest.mark.parametrize("state", ["out-of-service", "away", "on-loan"])
def test_no_state_leads_back_into_service_unverified(gauge: Gauge, people: People, state: str) -> None:
    manager = people["manager"]
    recall.change_state(gauge=gauge, state=state, reason="Gone.", by=manager, now=NOW)
    assert word(gauge) == "stop"
    with pytest.raises(recall.NotVerified):
        recall.change_state(gauge=gauge, state="in-service", reason="Back.", by=manager, now=NOW + HOUR)
    refusal = JournalEntry.objects.get(outcome="refused")
    assert (refusal.act, refusal.subject) == ("recall.change-state", f"gauge:{gauge.pk}")
    calibrate(gauge, NOW + 2 * HOUR, by=manager)
    recall.change_state(gauge=gauge, state="in-service", reason="Back.", by=manager, now=NOW + 3 * HOUR)
    assert word(gauge) == "use"


def test_a_stored_gauge_comes_back_only_while_it_is_not_due(make_gauge: MakeGauge, people: People) -> None:
    manager = people["manager"]
    for calibrated_on, current in [(date(2026, 3, 10), True), (date(2025, 3, 10), False)]:
        gauge = make_gauge(calibrated_on=calibrated_on)
        recall.change_state(gauge=gauge, state="stored", reason="Spare.", by=manager, now=NOW)
        assert word(gauge) == "stop"
        if current:
            recall.change_state(gauge=gauge, state="in-service", reason="Needed.", by=manager, now=NOW + HOUR)
            continue
        with pytest.raises(recall.NotVerified):
            recall.change_state(gauge=gauge, state="in-service", reason="Needed.", by=manager, now=NOW + HOUR)


def test_a_new_gauge_is_in_service_once_it_is_given_back_verified(
    make_gauge: MakeGauge, people: People, bench: Place
) -> None:
    gauge = make_gauge(calibrated_on=None)
    receive(gauge, people, bench)
    recall.record_use_check(gauge=gauge, good=True, by=people["technician"], now=NOW)
    with pytest.raises(recall.NotVerified):
        release(gauge, people, NOW + HOUR)
    calibrate(gauge, NOW + 2 * HOUR, by=people["manager"])
    assert queries.standing(gauge, TODAY).reason == "new and not accepted yet"
    release(gauge, people, NOW + 3 * HOUR)
    assert word(gauge) == "use"


# Refusal 13: back-dating


def test_a_receipt_is_neither_to_come_nor_before_the_last_step(
    gauge: Gauge, people: People, bench: Place
) -> None:
    with pytest.raises(InTheFuture):
        recall.receive(
            gauge=gauge,
            condition="Clean.",
            damaged=False,
            place=bench,
            at=NOW + HOUR,
            by=people["technician"],
            now=NOW,
        )
    receive(gauge, people, bench)
    calibrate(gauge, NOW + HOUR, by=people["manager"])
    release(gauge, people, NOW + HOUR)
    with pytest.raises(BeforeTheLastEvent):
        recall.receive(
            gauge=gauge,
            condition="Clean.",
            damaged=False,
            place=bench,
            at=NOW,
            by=people["technician"],
            now=NOW + 2 * HOUR,
        )


def test_only_what_is_here_is_given_back(gauge: Gauge, people: People) -> None:
    with pytest.raises(recall.NotInLaboratory):
        release(gauge, people, NOW)


# Call-ins


def test_a_bulk_call_in_says_whom_it_leaves_out_and_why(
    make_gauge: MakeGauge, people: People, bench: Place
) -> None:
    gauges = [make_gauge() for _ in range(4)]
    free, called, here, lost = gauges
    recall.call_in(gauges=[called], bring_by=TODAY, by=people["manager"], now=NOW)
    receive(here, people, bench)
    recall.change_state(gauge=lost, state="lost", reason="Not found.", by=people["manager"], now=NOW)
    plan = queries.call_in_plan(gauges)
    outcome = recall.call_in(
        gauges=gauges, bring_by=TODAY + timedelta(days=7), note="With case.", by=people["manager"], now=NOW
    )
    assert [row.gauge for row in outcome.called] == list(plan.callable) == [free]
    assert outcome.skipped == plan.skipped
    assert [row.sentence for row in outcome.skipped] == [
        f"{called} is called in already, by {TODAY}.",
        f"{here} is in the laboratory already.",
        f"{lost} is lost.",
    ]
    with pytest.raises(recall.NothingToCallIn):
        recall.call_in(gauges=gauges, bring_by=TODAY, by=people["manager"], now=NOW)


def test_nobody_is_asked_for_yesterday(gauge: Gauge, people: People) -> None:
    with pytest.raises(recall.BringByInThePast):
        recall.call_in(gauges=[gauge], bring_by=TODAY - timedelta(days=1), by=people["manager"], now=NOW)


def test_receipt_answers_the_call_in_and_a_withdrawal_closes_it(
    make_gauge: MakeGauge, people: People, bench: Place
) -> None:
    brought, spared = make_gauge(), make_gauge()
    recall.call_in(gauges=[brought, spared], bring_by=TODAY, by=people["manager"], now=NOW)
    receive(brought, people, bench, at=NOW + HOUR)
    answered = CallIn.objects.get(gauge=brought)
    assert answered.answered_at == NOW + HOUR
    with pytest.raises(recall.CallInClosed):
        recall.withdraw_call_in(call=answered, reason="x", by=people["manager"], now=NOW + HOUR)
    call = CallIn.objects.get(gauge=spared)
    recall.withdraw_call_in(call=call, reason="Needed on the line.", by=people["manager"], now=NOW)
    assert list(queries.open_call_ins()) == []
    # It may be called again later.
    recall.call_in(gauges=[spared], bring_by=TODAY, by=people["manager"], now=NOW + HOUR)


# The floor


def test_a_check_before_use_lets_the_gauge_be_used_today_only(make_gauge: MakeGauge, people: People) -> None:
    gauge = make_gauge(check_before_use=True)
    assert word(gauge) == "stop"
    recall.record_use_check(gauge=gauge, good=True, note="Zero held.", by=people["floor"], now=NOW)
    assert word(gauge) == "use"
    assert word(gauge, TODAY + timedelta(days=1)) == "stop"
    recall.record_use_check(
        gauge=gauge, good=False, note="Zero off by two steps.", by=people["floor"], now=NOW + HOUR
    )
    assert word(gauge) == "stop"
    assert gauge.holds.get().kind == Hold.Kind.FAILED_CHECK


def test_others_gauges_are_not_checked_or_handed_over(
    make_gauge: MakeGauge, people: People, lathe: Place
) -> None:
    gauge = make_gauge(custodian=None)
    stranger = people["administrator"]
    with pytest.raises(recall.NotInYourCare):
        recall.record_use_check(gauge=gauge, good=True, by=stranger, now=NOW)
    with pytest.raises(NotYourGauge):
        recall.hand_over(gauge=gauge, to="night shift", place=lathe, by=people["floor"], now=NOW)


def test_a_custodian_hands_over_but_not_out_of_the_laboratory(
    gauge: Gauge, people: People, lathe: Place, bench: Place
) -> None:
    recall.hand_over(gauge=gauge, to="night shift", place=lathe, by=people["floor"], now=NOW)
    assert gauge.custody.latest("at").condition == "To night shift."
    receive(gauge, people, bench, at=NOW + HOUR)
    with pytest.raises(recall.InTheLaboratoryNow):
        recall.hand_over(gauge=gauge, to="day shift", place=lathe, by=people["floor"], now=NOW + 2 * HOUR)


# Certificates of outside laboratories

PDF = b"%PDF-1.7 an invented certificate"


def outside(gauge: Gauge, people: People, content: bytes = PDF, **changes: Any) -> OutsideCertificate:
    said = {
        "issuer": "Outside laboratory A",
        "number": "A-17",
        "calibrated_on": date(2026, 11, 2),
        "verdict": "in_tolerance",
        **changes,
    }
    file = SimpleUploadedFile("my scan (2).pdf", content)
    return recall.receive_outside_certificate(
        gauge=gauge, data=recall.OutsideData(**said), file=file, by=people["technician"], now=NOW
    )


def test_an_outside_certificate_counts_only_once_accepted(gauge: Gauge, people: People) -> None:
    row = outside(gauge, people)
    assert queries.due_on(gauge, NOW) == date(2027, 3, 10)
    assert row.file_sha256 == hashlib.sha256(PDF).hexdigest()
    recall.accept_outside_certificate(certificate=row, reason="In scope.", by=people["reviewer"], now=NOW)
    assert gauge.calibration_events.filter(source=f"outside:{row.pk}").get() == queries.last_event(gauge)
    assert queries.due_on(gauge, NOW) == date(2027, 11, 2)
    with pytest.raises(recall.AlreadyDecided):
        recall.reject_outside_certificate(certificate=row, reason="x", by=people["reviewer"], now=NOW)


def test_a_rejected_certificate_never_counts(gauge: Gauge, people: People) -> None:
    row = outside(gauge, people)
    recall.reject_outside_certificate(certificate=row, reason="Wrong serial.", by=people["reviewer"], now=NOW)
    assert gauge.calibration_events.count() == 1


def test_an_outside_certificate_that_found_it_bad_blocks_the_gauge(gauge: Gauge, people: People) -> None:
    row = outside(gauge, people, as_found="out_of_tolerance", as_found_within_limits=False, adjusted=True)
    recall.accept_outside_certificate(certificate=row, reason="In scope.", by=people["reviewer"], now=NOW)
    assert gauge.holds.get().owed


def test_only_a_certificate_file_is_taken_under_a_name_of_our_own(gauge: Gauge, people: People) -> None:
    with pytest.raises(recall.NotACertificateFile):
        outside(gauge, people, content=b"<html>not a certificate</html>")
    row = outside(gauge, people)
    assert "scan" not in str(row.file.name)
    assert row.file.read() == PDF


def test_the_same_certificate_is_not_received_twice_nor_from_the_future(gauge: Gauge, people: People) -> None:
    outside(gauge, people)
    with pytest.raises(ValidationError, match="already on file"):
        outside(gauge, people)
    with pytest.raises(recall.CalibratedInTheFuture):
        outside(gauge, people, number="A-18", calibrated_on=TODAY + timedelta(days=1))


def test_who_accepts_is_not_any_technician(gauge: Gauge, people: People) -> None:
    row = outside(gauge, people)
    with pytest.raises(NotAllowed):
        recall.accept_outside_certificate(certificate=row, reason="x", by=people["technician"], now=NOW)
