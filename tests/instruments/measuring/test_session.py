"""A session from the first look to approval, and everything it refuses."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest

from instruments.inventory.models import CustodyEvent, Gauge
from instruments.inventory.queries import whereabouts
from instruments.measuring.evaluation import ground_of
from instruments.measuring.models import (
    PointVoid,
    Reading,
    Result,
    Review,
    Session,
    SetAside,
    Strike,
    Submission,
)
from instruments.measuring.open_items import open_items
from instruments.measuring.operations import (
    AdjustmentData,
    accept_deviation,
    approve,
    begin_as_left,
    open_session,
    resolve_set_aside,
    retake_point,
    return_submission,
    submit,
    void_point,
    void_session,
)
from instruments.measuring.operations.gate import ReasonMissing
from instruments.measuring.operations.opening import NoProcedure, NothingAgreed, NotReceived, SessionUnderWay
from instruments.measuring.operations.reviewing import NothingToReview, OwnWorkReviewed
from instruments.measuring.operations.stages import AdjustmentNotAgreed, AsFoundIncomplete
from instruments.measuring.operations.submitting import StillOpen
from instruments.measuring.queries import bench_of, outcome_of
from instruments.measuring.record import record_of
from labsys.accounts.access import NotAuthorised
from labsys.accounts.models import Activity
from labsys.accounts.operations import Grant, authorise, withdraw_authorisation
from labsys.journal.door import hash_of
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from labsys.laboratory.operations import set_details
from labsys.metrology.acceptance import AccuracyRatioTooLow
from labsys.metrology.verdicts import Verdict
from tests import laboratory
from tests.bench import MORNING, Player
from tests.laboratory import Lab, proof


def test_a_whole_session_is_measured_handed_in_and_approved(lab: Lab, player: Player) -> None:
    player.begin()
    readings = player.read_off()
    assert all(isinstance(reading, Reading) for reading in readings)
    assert {point.function for point in player.points()} == {
        "outside",
        "inside",
        "depth",
        "step",
        "small_bore",
    }
    submission = player.finish()
    assert Session.objects.get().state == "submitted"
    outcome = outcome_of(submission)
    assert outcome.as_left is Verdict.IN_TOLERANCE
    assert outcome.as_found_within_limits is True
    assert outcome.calibrated_on == MORNING.date()
    assert outcome.unmeasured == ()
    review = approve(
        submission=submission, proof=proof(lab.reviewer, player.now), by=lab.reviewer, now=player.now
    )
    assert review.signature is not None
    assert review.signature.record_sha256 == submission.record_sha256 == hash_of(record_of(player.session))
    assert Session.objects.get().state == "approved"


def test_the_hash_of_the_record_is_journalled_at_handing_in(player: Player) -> None:
    player.begin()
    player.read_off()
    before = JournalEntry.objects.count()
    submission = player.finish()
    entry = JournalEntry.objects.filter(act="measuring.submit").get()
    assert (entry.after or {})["record_sha256"] == submission.record_sha256
    acts = set(JournalEntry.objects.filter(sequence__gt=before).values_list("act", flat=True))
    assert acts == {"measuring.submit", "inventory.record-custody"}, "readings aren't journalled one by one"


def test_the_gauge_waits_for_the_reviewer_after_handing_in(player: Player) -> None:
    player.begin()
    player.read_off()
    player.finish()
    last = whereabouts(player.session.gauge)
    assert last is not None
    assert (last.kind, last.waits_for) == (CustodyEvent.Kind.WAITING, CustodyEvent.WaitsFor.REVIEWER)


def test_a_gauge_is_measured_after_it_was_received(lab: Lab, gauge: Gauge) -> None:
    with pytest.raises(NotReceived, match="C-0001 is not in the laboratory"):
        open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=MORNING)
    refused = JournalEntry.objects.filter(outcome="refused").get()
    assert (refused.after or {})["code"] == "not-received"


def test_a_second_session_on_one_gauge_is_refused(lab: Lab, player: Player) -> None:
    with pytest.raises(SessionUnderWay, match=f"already has session {player.session.pk} under way"):
        open_session(gauge=player.session.gauge, place=lab.bench, by=lab.technician, now=player.now)


def test_a_technician_without_authority_is_refused(
    lab: Lab, gauge: Gauge, bring: Callable[..., Gauge]
) -> None:
    bring(gauge)
    withdraw_authorisation(
        person=lab.technician, activity=Activity.MEASURE, family=lab.family, reason="left the bench",
        by=laboratory.SETUP, now=MORNING,
    )  # fmt: skip
    with pytest.raises(NotAuthorised, match="not authorised to measure"):
        open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=MORNING)
    with pytest.raises(NotAllowed):
        open_session(gauge=gauge, place=lab.bench, by=lab.floor, now=MORNING)


def test_nothing_agreed_is_named(lab: Lab, bring: Callable[..., Gauge]) -> None:
    gauge = laboratory.caliper_gauge(lab, laboratory.caliper_model(lab))
    bring(gauge)
    with pytest.raises(NothingAgreed, match="Shafts has agreed nothing"):
        open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=MORNING)


def test_no_procedure_is_named(lab: Lab, gauge: Gauge, bring: Callable[..., Gauge]) -> None:
    from instruments.procedures.operations import retire_revision

    retire_revision(revision=lab.revision, reason="rewritten", by=lab.reviewer, now=MORNING)
    bring(gauge)
    with pytest.raises(NoProcedure):
        open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=MORNING + timedelta(hours=1))


def test_a_rule_that_can_never_decide_is_refused_at_the_start(lab: Lab, bring: Callable[..., Gauge]) -> None:
    laboratory.agreed(lab, rule={"kind": "simple", "min_ratio": "4", "view": "calibration"})
    gauge = laboratory.caliper_gauge(lab, laboratory.caliper_model(lab))
    bring(gauge)
    with pytest.raises(AccuracyRatioTooLow):
        open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=MORNING + timedelta(hours=2))
    assert not Session.objects.exists()


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        ("abc", "not-a-number"),
        ("25.025", "more-digits-than-shown"),
        ("1.000 in", "wrong-unit"),
        ("", "not-a-number"),
    ],
)
def test_what_is_no_reading_is_kept_and_set_aside_with_a_sentence(
    player: Player, raw: str, code: str
) -> None:
    player.begin()
    found = player.read(player.points()[0], raw)
    assert isinstance(found, SetAside)
    assert found.code == code
    assert found.sentence
    assert "raw" in found.arrival.text
    for point in player.points()[1:]:
        player.read(point, f"{point.nominal_mm:.2f}")
    with pytest.raises(StillOpen, match="1 entered value set aside"):
        player.finish()
    player.read_off()
    found.refresh_from_db()
    assert found.resolution == "read again: 41.3"
    assert player.finish()


def test_what_was_set_aside_can_be_answered_for_without_another_reading(player: Player) -> None:
    player.begin()
    player.read_off()
    found = player.read(player.points()[0], "dropped it")
    with pytest.raises(StillOpen, match="1 entered value set aside"):
        player.finish()
    resolve_set_aside(set_aside=found, resolution="no reading", by=player.by, now=player.now)
    assert submit(session=player.session, by=player.by, now=player.now)


@pytest.mark.parametrize(("raw", "question"), [("1.63", "25.4"), ("90.00", "right block")])
def test_an_odd_reading_counts_once_it_is_confirmed(player: Player, raw: str, question: str) -> None:
    player.begin()
    point = player.points()[0]
    found = player.read(point, raw)
    assert (found.code, question in found.sentence) == ("reading-questioned", True)
    kept = player.send("reading", point=point.pk, raw=raw, confirmed=True)
    assert isinstance(kept, Reading)
    found.refresh_from_db()
    assert found.resolved_at is not None


def test_the_same_envelope_twice_is_one_reading_and_other_content_is_kept_too(player: Player) -> None:
    player.begin()
    point = player.points()[0]
    first = player.send("reading", client_id="one", point=point.pk, raw="41.30")
    player.now -= timedelta(minutes=1)
    again = player.send("reading", client_id="one", point=point.pk, raw="41.30")
    assert first.pk == again.pk
    other = player.send("reading", client_id="one", point=point.pk, raw="41.31")
    assert isinstance(other, Reading)
    assert Reading.objects.filter(point=point).count() == 2


def test_measuring_in_the_future_or_before_receipt_is_set_aside(player: Player) -> None:
    player.begin()
    point = player.points()[0]
    late = player.send("reading", point=point.pk, raw="41.30", measured_at="2031-01-01T00:00:00+00:00")
    early = player.send("reading", point=point.pk, raw="41.30", measured_at="2025-06-03T06:00:00+00:00")
    assert (late.code, early.code) == ("measured-in-the-future", "measured-before-receipt")


def test_readings_after_handing_in_are_stored_and_set_aside(player: Player) -> None:
    player.begin()
    player.read_off()
    player.finish()
    found = player.read(player.points()[0], "41.30")
    assert found.code == "session-not-open"


def test_a_lapsed_authority_sets_aside_and_loses_nothing(lab: Lab, player: Player) -> None:
    player.begin()
    withdraw_authorisation(
        person=lab.technician, activity=Activity.MEASURE, family=lab.family, reason="expired",
        by=laboratory.SETUP, now=player.now,
    )  # fmt: skip
    found = player.read(player.points()[0], "41.30")
    assert (found.code, found.arrival.kind) == ("not-authorised", "reading")


def test_handing_in_names_everything_open(player: Player) -> None:
    with pytest.raises(StillOpen) as refusal:
        submit(session=player.session, by=player.by, now=player.now)
    text = str(refusal.value)
    for part in (
        "looks not answered",
        "temperature is not noted",
        "zero as found",
        "zero is not set",
        "to be measured",
    ):
        assert part in text


def test_a_room_out_of_limits_needs_the_reviewers_word(lab: Lab, player: Player) -> None:
    player.look()
    player.room("24.5")
    player.zero("as-found")
    player.zero("set")
    player.read_off()
    with pytest.raises(StillOpen, match=r"24\.5 °C lies outside"):
        player.finish()
    with pytest.raises(NotAllowed):
        accept_deviation(
            session=player.session, rule="temperature-out", reason="x", owner_consent="", by=player.by, now=player.now
        )  # fmt: skip
    with pytest.raises(ReasonMissing):
        accept_deviation(
            session=player.session, rule="temperature-out", reason=" ", owner_consent="", by=lab.reviewer,
            now=player.now,
        )  # fmt: skip
    accept_deviation(
        session=player.session, rule="temperature-out", reason="cooling failed, effect inside U",
        owner_consent="shop lead agreed", by=lab.reviewer, now=player.now,
    )  # fmt: skip
    assert submit(session=player.session, by=player.by, now=player.now)


def test_own_work_is_not_reviewed(lab: Lab, gauge: Gauge, sit: Callable[..., Player]) -> None:
    from django.contrib.auth.models import Group

    lab.technician.groups.add(Group.objects.get(name="reviewer"))
    authorise(
        grant=Grant(lab.technician, Activity.REVIEW, lab.family), valid_from=laboratory.START,
        by=laboratory.SETUP, now=laboratory.START,
    )  # fmt: skip
    technician = type(lab.technician).objects.get(pk=lab.technician.pk)
    player = sit(gauge, by=technician)
    player.begin()
    player.read_off()
    submission = player.finish()
    with pytest.raises(OwnWorkReviewed):
        approve(submission=submission, proof=proof(technician, player.now), by=technician, now=player.now)
    set_details(
        name="One-person laboratory", address="x", contact="x", second_signature=False,
        reason="only one person works here", by=laboratory.SETUP, now=player.now,
    )  # fmt: skip
    assert approve(submission=submission, proof=proof(technician, player.now), by=technician, now=player.now)


def test_returned_with_a_reason_then_measured_again_and_approved(lab: Lab, player: Player) -> None:
    player.begin()
    player.read_off()
    first = player.finish()
    with pytest.raises(ReasonMissing):
        return_submission(submission=first, reason="", by=lab.reviewer, now=player.now)
    return_submission(submission=first, reason="repeat the tips", by=lab.reviewer, now=player.now)
    player.session.refresh_from_db()
    assert player.session.state == "returned"
    point = next(point for point in player.points() if point.place == "tips")
    again = retake_point(point=point, elements=None, reason="asked for", by=player.by, now=player.now)
    player.read(again, f"{again.nominal_mm:.2f}")
    second = player.finish()
    assert second.number == 2
    with pytest.raises(NothingToReview):
        approve(submission=first, proof=proof(lab.reviewer, player.now), by=lab.reviewer, now=player.now)
    approve(submission=second, proof=proof(lab.reviewer, player.now), by=lab.reviewer, now=player.now)
    assert list(Review.objects.order_by("pk").values_list("decision", flat=True)) == ["returned", "approved"]
    assert Submission.objects.count() == 2


def test_a_zero_that_moved_voids_the_points_and_a_second_time_rejects(player: Player) -> None:
    player.begin()
    player.read_off()
    count = len(player.points())
    player.zero("closing", "0.02")
    assert PointVoid.objects.count() == count
    assert len(player.points()) == count, "every void point is taken again"
    assert all(point.attempt == 2 for point in player.points())
    player.zero("set")
    player.read_off()
    player.zero("closing", "-0.03")
    bench = bench_of(player.session)
    assert any("zero is not stable" in reason for reason in bench.rejections)
    submission = submit(session=player.session, by=player.by, now=player.now)
    assert outcome_of(submission).as_left is Verdict.NOT_ACCEPTED


def test_a_closing_zero_of_exactly_one_step_holds(player: Player) -> None:
    player.begin()
    player.read_off()
    submission = None
    player.zero("closing", "-0.01")
    submission = submit(session=player.session, by=player.by, now=player.now)
    assert not PointVoid.objects.exists()
    budget = Result.objects.filter(submission=submission).first()
    assert budget is not None and '"zero' in budget.budget.lower()


def test_damage_ends_the_job(player: Player) -> None:
    player.look(damage="not-good")
    player.room()
    submission = submit(session=player.session, by=player.by, now=player.now)
    outcome = outcome_of(submission)
    assert outcome.as_left is Verdict.NOT_ACCEPTED
    assert outcome.rejections
    assert outcome.as_found is None


def test_strikes_keep_the_reading_and_an_out_of_tolerance_one_needs_the_reviewer(player: Player) -> None:
    player.begin()
    point = player.points()[0]
    good = player.read(point, f"{point.nominal_mm:.2f}")
    struck = player.send("strike", reading=good.pk, reason="seating")
    assert isinstance(struck, Strike)
    assert Reading.objects.filter(pk=good.pk).exists()
    bad = player.read(point, f"{point.nominal_mm + Decimal('0.05'):.2f}")
    refused = player.send("strike", reading=bad.pk, reason="seating")
    assert refused.code == "out-of-tolerance-not-struck"


def test_of_repeats_the_one_with_the_least_margin_is_judged(player: Player) -> None:
    player.begin()
    player.read_off()
    point = player.points()[0]
    player.read(point, f"{point.nominal_mm + Decimal('0.02'):.2f}")
    player.read(point, f"{point.nominal_mm + Decimal('0.01'):.2f}")
    submission = player.finish()
    result = Result.objects.get(submission=submission, points=point)
    assert result.value_mm == Decimal("0.02")


def test_adjusting_wants_as_found_complete_and_gives_both_stages(lab: Lab, player: Player) -> None:
    data = AdjustmentData(what="gib tightened", parts="gib screw")
    with pytest.raises(AsFoundIncomplete):
        begin_as_left(session=player.session, adjustment=data, by=player.by, now=player.now)
    player.begin()
    player.read_off(lambda point: 5 if point.function == "outside" else 0)
    player.zero("closing")
    run = begin_as_left(session=player.session, adjustment=data, by=player.by, now=player.now)
    assert run.stage == "as-left"
    player.begin()
    player.read_off()
    outcome = outcome_of(player.finish())
    assert outcome.adjusted
    assert (outcome.as_found, outcome.as_left) == (Verdict.OUT_OF_TOLERANCE, Verdict.IN_TOLERANCE)
    assert outcome.as_found_within_limits is False


def test_adjusting_against_the_agreement_is_refused(lab: Lab, sit: Callable[..., Player]) -> None:
    laboratory.agreed(lab, adjustment_allowed=False)
    player = sit(laboratory.caliper_gauge(lab, laboratory.caliper_model(lab)))
    player.begin()
    player.read_off()
    player.zero("closing")
    with pytest.raises(AdjustmentNotAgreed):
        begin_as_left(
            session=player.session, adjustment=AdjustmentData(what="x"), by=player.by, now=player.now
        )


def test_leaving_a_place_out_leaves_a_rule_open(player: Player) -> None:
    player.begin()
    for point in [point for point in player.points() if point.place == "tips"]:
        void_point(point=point, reason="no time", by=player.by, now=player.now)
    player.read_off()
    with pytest.raises(StillOpen, match="tips"):
        player.finish()


def test_a_void_session_keeps_its_readings_and_frees_the_gauge(lab: Lab, player: Player) -> None:
    player.begin()
    player.read_off()
    void_session(session=player.session, reason="wrong gauge on the bench", by=player.by, now=player.now)
    assert Reading.objects.exists()
    assert open_session(gauge=player.session.gauge, place=lab.bench, by=player.by, now=player.now)


def test_what_was_given_back_waits_for_the_bench_and_no_longer_for_the_reviewer(
    lab: Lab, player: Player
) -> None:
    player.begin()
    player.read_off()
    submission = player.finish()
    return_submission(submission=submission, reason="repeat the tips", by=lab.reviewer, now=player.now)
    last = whereabouts(player.session.gauge)
    assert last is not None
    assert last.kind == CustodyEvent.Kind.ON_BENCH
    assert not last.waits_for


def test_a_room_noted_again_before_the_first_reading_counts_alone(player: Player) -> None:
    player.look()
    player.room("25.9")
    player.room("20.4")
    assert ground_of(player.run).temperature_c == pytest.approx(20.4)
    player.zero("as-found")
    player.zero("set")
    assert "temperature-out" not in {item.code for item in open_items(player.session)}
    player.room("20.8")
    assert ground_of(player.run).temperature_c == pytest.approx(20.6)
    player.room("23.0")
    assert "temperature-out" in {item.code for item in open_items(player.session)}
