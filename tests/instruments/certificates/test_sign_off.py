"""Signing off: what the one act writes, and everything it refuses."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.core.files.storage import default_storage
from django.db import DatabaseError, transaction

from instruments.certificates.document import missing_items
from instruments.certificates.gathering import NoLaboratoryDetails, ResultNotReproduced, compose
from instruments.certificates.models import Certificate, NumberSeries
from instruments.certificates.operations import IncompleteCertificate, sign_off
from instruments.certificates.printing import SignNotInType
from instruments.certificates.queries import document_of
from instruments.inventory.models import Gauge
from instruments.inventory.queries import whereabouts
from instruments.measuring.models import Session, Submission
from instruments.measuring.operations import (
    AdjustmentData,
    accept_deviation,
    begin_as_left,
    submit,
    void_point,
)
from instruments.measuring.operations.reviewing import NothingToReview, OwnWorkReviewed
from instruments.recall.models import CalibrationEvent, Hold, Restriction
from instruments.recall.operations import receive, release
from labsys.accounts.access import NotAuthorised
from labsys.accounts.models import Activity, Person
from labsys.accounts.operations import Grant, ProofTooOld, SignInProof, authorise, withdraw_authorisation
from labsys.jobs.models import OwedWork
from labsys.journal.door import hash_of
from labsys.journal.models import JournalEntry
from labsys.journal.queries import verify_chain
from labsys.journal.roles import NotAllowed
from labsys.laboratory.operations import set_details, withdraw_agreement
from labsys.metrology.decision import decide
from labsys.metrology.verdicts import Verdict
from standards.traceability.models import CertificateReceived
from standards.traceability.queries.chain import ChainBroken
from tests import laboratory
from tests.bench import MORNING, Player
from tests.instruments.certificates.conftest import sign
from tests.laboratory import Lab, proof

D = Decimal
Sitting = Callable[..., Submission]


def test_one_act_approves_numbers_freezes_records_and_owes(lab: Lab, submission: Submission) -> None:
    before = JournalEntry.objects.count()
    certificate = sign(lab, submission)
    now = submission.submitted_at
    assert (certificate.number, certificate.state) == ("CAL-00001", "numbered")
    assert (certificate.numbered_at, certificate.session) == (now, submission.session)
    assert certificate.document_sha256 == hash_of(certificate.document)
    assert certificate.signature.record_sha256 == certificate.document_sha256
    assert (certificate.signature.person, certificate.signature.meaning) == (lab.reviewer, "authorised")
    assert Session.objects.get().state == "approved"
    event = CalibrationEvent.objects.get()
    assert (event.source, event.as_found, event.as_left) == (
        f"session:{submission.session_id}",
        "in_tolerance",
        "in_tolerance",
    )
    assert (event.calibrated_on, event.due_on) == (date(2025, 6, 3), date(2026, 6, 3))
    owed = OwedWork.objects.get(kind="render-certificate")
    assert (owed.subject, owed.done_at) == (f"certificate:{certificate.pk}", None)
    place = whereabouts(submission.session.gauge)
    assert place is not None and place.kind == "released"
    acts = JournalEntry.objects.filter(sequence__gt=before).order_by("sequence").values_list("act", flat=True)
    assert list(acts) == [
        "accounts.sign",
        "measuring.approve",
        "recall.record-calibration",
        "inventory.record-custody",
        "accounts.sign",
        "certificates.sign-off",
    ]
    assert verify_chain().fault is None


def test_the_document_says_what_was_measured(signed: Certificate) -> None:
    document = document_of(signed)
    assert missing_items(document) == ()
    assert (document.number, document.code) == (signed.number, signed.code)
    assert document.verification_url.endswith(f"/verify/{signed.code}/")
    results = list(signed.submission.results.order_by("pk"))
    lines = document.stages[0].lines
    assert [line.error_mm for line in lines] == [result.value_mm for result in results]
    assert [line.U_mm for line in lines] == [result.U_mm for result in results]
    assert [line.verdict for line in lines] == [result.verdict for result in results]
    # Each block is 0.0001 mm too long and was read at its nominal: the error is the reading minus the reference.
    for line, result in zip(lines, results, strict=True):
        point = result.points.get()
        blocks = sum(row.count for row in point.references.all())
        assert line.reading_mm == point.nominal_mm
        assert line.error_mm == -D("0.0001") * blocks
    assert {line.place for line in lines if line.function == "outside"} == {"near_beam", "middle", "tips"}
    assert document.conformity is not None
    assert document.conformity.covers == f"This statement covers results 1–{len(lines)}."
    assert "not confirmed" in document.conformity.specification
    assert document.conditions.temperature_mean_c == D("20.0")
    assert document.conditions.soak.startswith("In the laboratory for 2 h before the first reading")
    assert [row.certificate for row in document.standards] == ["KB-GB-01/25", "KB-SR-01/25"]
    assert document.method.documents[0] == "ISO 13385-1:2019"
    assert document.statements.sets.startswith("No adjustment was made")


def test_a_gauge_in_inches_is_certified_in_inches(lab: Lab, sitting: Sitting) -> None:
    laboratory.agreed(lab)
    gauge = laboratory.caliper_gauge(lab, laboratory.caliper_model(lab, inch=True))
    document = document_of(sign(lab, sitting(gauge, lambda point: 1)))
    assert (document.item.unit, document.item.range_text) == ("in", "0 in to 6 in")
    line = document.stages[0].lines[0]
    # One step of 0.0005 in is 0.0127 mm; each reference is 0.0001 mm too long.
    blocks = (line.reference_mm - line.nominal_mm) / D("0.0001")
    assert line.error_mm == D("0.0127") - D("0.0001") * blocks
    assert D(line.printed.error) == round(line.error_mm / D("25.4"), len(line.printed.error.split(".")[1]))
    assert D(line.printed.reading) * D("25.4") == line.reading_mm


def _adjusted(player: Player) -> Submission:
    player.begin()
    player.read_off(lambda point: 5 if point.function == "outside" else 0)
    player.zero("closing")
    data = AdjustmentData(what="gib tightened", parts="gib screw")
    begin_as_left(session=player.session, adjustment=data, by=player.by, now=player.now)
    player.begin()
    player.read_off()
    return player.finish()


def test_an_adjusted_gauge_has_both_sets_and_a_hold(lab: Lab, player: Player) -> None:
    document = document_of(sign(lab, _adjusted(player)))
    assert [stage.name for stage in document.stages] == ["as-found", "as-left"]
    assert [stage.verdict for stage in document.stages] == ["out_of_tolerance", "in_tolerance"]
    assert [line.number for stage in document.stages for line in stage.lines] == list(
        range(1, 1 + sum(len(stage.lines) for stage in document.stages))
    )
    assert [row.what for row in document.adjustments] == ["gib tightened"]
    assert document.statements.sets.startswith("The gauge was adjusted between")
    event = CalibrationEvent.objects.get()
    assert (event.as_found, event.as_found_within_limits, event.adjusted) == ("out_of_tolerance", False, True)
    assert Hold.objects.get().owed is True


def test_a_gauge_that_does_not_pass_waits_for_its_owner(lab: Lab, gauge: Gauge, sitting: Sitting) -> None:
    sign(lab, sitting(gauge, lambda point: 9))
    place = whereabouts(gauge)
    assert place is not None
    assert (place.kind, place.waits_for) == ("waiting", "owner")


def test_a_gauge_rejected_at_sight_gets_its_certificate(lab: Lab, player: Player) -> None:
    player.look(damage="not-good")
    player.room()
    document = document_of(sign(lab, submit(session=player.session, by=player.by, now=player.now)))
    assert document.stages == ()
    assert len(document.rejections) == 1
    assert document.rejections[0].startswith("Not good: Beam straight")
    assert document.conformity is None
    assert CalibrationEvent.objects.get().as_left == "not_accepted"


def test_functions_without_a_verdict_are_said_and_restricted(lab: Lab, player: Player) -> None:
    player.begin()
    point = next(point for point in player.points() if point.function == "depth")
    void_point(point=point, reason="rod missing", by=player.by, now=player.now)
    player.read_off()
    player.zero("closing")
    from instruments.measuring.open_items import open_items

    for item in open_items(player.session):
        accept_deviation(
            session=player.session,
            rule=item.code,
            reason="the rod was lost",
            owner_consent="shop lead",
            by=lab.reviewer,
            now=player.now,
        )
    document = document_of(sign(lab, submit(session=player.session, by=player.by, now=player.now)))
    assert document.not_measured == ("depth",)
    assert (
        document.statements.limited
        == "Limited calibration: depth was not measured; nothing is stated about it."
    )
    assert [row.reason for row in document.deviations] == ["the rod was lost"]
    row = Restriction.objects.get()
    assert row.functions == ["outside", "inside", "step", "small_bore"]
    assert row.text == "Only for outside, inside, step and small bore: depth not calibrated."
    assert row.owner_consent == "shop lead"


def test_struck_readings_and_looks_that_were_not_good_are_told(lab: Lab, player: Player) -> None:
    player.look(clamp="not-good")
    player.room()
    player.zero("as-found", "0.01")
    player.zero("set")
    point = player.points()[0]
    first = player.read(point, f"{point.nominal_mm:.2f}")
    player.send("strike", reading=first.pk, reason="seating")
    player.read_off()
    document = document_of(sign(lab, player.finish()))
    assert document.remarks[0].startswith("As found, not good: The clamp screw holds")
    assert document.remarks[1] == "1 reading was struck with a reason and kept in the laboratory's record."
    assert document.stages[0].zero.startswith("Zero as found 0.01 mm. It was set once")


def test_damage_on_receipt_is_disclaimed(lab: Lab, gauge: Gauge) -> None:
    receive(gauge=gauge, condition="beam bent.", damaged=True, place=lab.bench, at=MORNING, by=lab.technician,
            now=MORNING)  # fmt: skip
    from instruments.measuring.operations import open_session

    at = MORNING + timedelta(hours=2)
    player = Player(open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=at), lab.technician, at)
    player.begin()
    player.read_off()
    document = document_of(sign(lab, player.finish()))
    assert (document.receipt.condition, document.receipt.damaged) == ("beam bent", True)
    assert document.receipt.departure.startswith("The gauge was received with the departure")


# Refusals. Each leaves nothing behind but its entry in the journal.


def _nothing_happened(submission: Submission) -> None:
    assert not Certificate.objects.exists()
    assert not CalibrationEvent.objects.exists()
    assert not OwedWork.objects.exists()
    assert Session.objects.get(pk=submission.session_id).state == "submitted"
    assert not NumberSeries.objects.filter(last__gt=0).exists()


def _refused() -> dict[str, Any]:
    entry = JournalEntry.objects.filter(outcome="refused").order_by("sequence").last()
    assert entry is not None
    assert entry.act == "certificates.sign-off"
    return dict(entry.after or {})


def test_refusal_1_without_an_authorisation_at_that_moment(lab: Lab, submission: Submission) -> None:
    withdraw_authorisation(
        person=lab.reviewer, activity=Activity.AUTHORISE, family=lab.family, reason="left", by=laboratory.SETUP,
        now=submission.submitted_at,
    )  # fmt: skip
    with pytest.raises(NotAuthorised, match="authorise certificates"):
        sign(lab, submission)
    assert _refused()["code"] == "not-authorised"
    _nothing_happened(submission)


def test_an_authorisation_counts_on_its_last_day_and_not_the_day_after(
    lab: Lab, submission: Submission
) -> None:
    now = submission.submitted_at
    yesterday = Grant(lab.reviewer, Activity.AUTHORISE, lab.family, lapses_on=now.date() - timedelta(days=1))
    since = now - timedelta(days=30)
    authorise(grant=yesterday, valid_from=since, by=laboratory.SETUP, now=now)
    with pytest.raises(NotAuthorised):
        sign(lab, submission)
    today = replace(yesterday, lapses_on=now.date())
    authorise(grant=today, valid_from=since + timedelta(days=1), by=laboratory.SETUP, now=now)
    assert sign(lab, submission).number == "CAL-00001"


@pytest.mark.parametrize("role", ["manager", "technician", "floor", "auditor", "administrator"])
def test_only_a_signatory_signs(lab: Lab, submission: Submission, role: str) -> None:
    person = getattr(lab, role)
    now = submission.submitted_at
    with pytest.raises(NotAllowed):
        sign_off(submission=submission, proof=proof(person, now), by=person, now=now)
    _nothing_happened(submission)


def _two_hats(lab: Lab) -> Person:
    """Give the technician the reviewer's role and authorisations as well."""
    lab.technician.groups.add(Group.objects.get(name="reviewer"))
    for activity in (Activity.REVIEW, Activity.AUTHORISE):
        grant = Grant(lab.technician, activity, lab.family)
        authorise(grant=grant, valid_from=laboratory.START, by=laboratory.SETUP, now=laboratory.START)
    return Person.objects.get(pk=lab.technician.pk)


def test_refusal_2_nobody_signs_own_work(lab: Lab, submission: Submission) -> None:
    person, now = _two_hats(lab), submission.submitted_at
    with pytest.raises(OwnWorkReviewed):
        sign_off(submission=submission, proof=proof(person, now), by=person, now=now)
    assert _refused()["code"] == "own-work-reviewed"
    _nothing_happened(submission)


def test_one_person_signs_by_a_recorded_decision_which_the_certificate_says(
    lab: Lab, submission: Submission
) -> None:
    person, now = _two_hats(lab), submission.submitted_at
    set_details(
        name="Small laboratory", address="1 Works Road", contact="lab", second_signature=False,
        reason="one person works here", by=laboratory.SETUP, now=now,
    )  # fmt: skip
    certificate = sign_off(submission=submission, proof=proof(person, now), by=person, now=now)
    said = document_of(certificate).statements.one_signature
    assert said == (
        "The laboratory works without a second signature by its decision of 2025-06-03 (set-up). "
        "Reason: one person works here. The person who measured also authorised this certificate."
    )


def test_the_decision_is_said_even_where_two_people_signed(lab: Lab, submission: Submission) -> None:
    set_details(
        name="Small laboratory", address="1 Works Road", contact="lab", second_signature=False,
        reason="one person works here.", by=laboratory.SETUP, now=submission.submitted_at,
    )  # fmt: skip
    said = document_of(sign(lab, submission)).statements.one_signature
    assert said.endswith("Reason: one person works here.")


def test_refusal_3_a_standard_whose_chain_is_broken(lab: Lab, submission: Submission) -> None:
    name = CertificateReceived.objects.get(number="KB-GB-01/25").file.name
    assert name is not None
    default_storage.delete(name)
    with pytest.raises(ChainBroken, match="GB-01 is broken"):
        sign(lab, submission)
    assert _refused()["code"] == "chain-broken"
    _nothing_happened(submission)


def test_refusal_4_a_verdict_that_does_not_follow(lab: Lab, submission: Submission, monkeypatch: Any) -> None:
    from instruments.certificates.gathering import lines

    monkeypatch.setattr(lines, "decide", lambda **k: replace(decide(**k), verdict=Verdict.OUT_OF_TOLERANCE))
    with pytest.raises(ResultNotReproduced, match="stored as in_tolerance"):
        sign(lab, submission)
    _nothing_happened(submission)


def test_an_incomplete_certificate_is_refused_with_what_is_missing(
    lab: Lab, submission: Submission, monkeypatch: Any
) -> None:
    from instruments.certificates.operations import signing

    def without_grounds(*args: Any) -> Any:
        made = compose(*args)
        assert made.conformity is not None
        return replace(made, place="", conformity=replace(made.conformity, rule=""))

    monkeypatch.setattr(signing, "compose", without_grounds)
    with pytest.raises(IncompleteCertificate) as refused:
        sign(lab, submission)
    assert refused.value.data["items"] == "3 place of the work; 23 statement of conformity with its grounds"
    _nothing_happened(submission)


def test_a_laboratory_without_name_and_address_issues_nothing(
    lab: Lab, submission: Submission, monkeypatch: Any
) -> None:
    monkeypatch.setattr("instruments.certificates.gathering.composing.details_in_force", lambda at: None)
    with pytest.raises(NoLaboratoryDetails):
        sign(lab, submission)
    _nothing_happened(submission)


def test_a_name_that_can_not_be_printed_is_refused(lab: Lab, sitting: Sitting) -> None:
    laboratory.agreed(lab)
    model = laboratory.caliper_model(lab, maker="工具")
    submission = sitting(laboratory.caliper_gauge(lab, model))
    with pytest.raises(SignNotInType):
        sign(lab, submission)
    _nothing_happened(submission)


def test_refusal_7_a_signed_certificate_is_never_changed(signed: Certificate) -> None:
    rows = Certificate.objects.filter(pk=signed.pk)
    changes: list[dict[str, Any]] = [
        {"document": "{}"},
        {"number": "CAL-00002"},
        {"document_sha256": "0" * 64},
        {"code": "0" * 32},
        {"numbered_at": MORNING},
    ]
    for change in changes:
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.update(**change)
    with pytest.raises(DatabaseError), transaction.atomic():
        rows.delete()
    rows.update(file="certificates/x.pdf", file_sha256="a" * 64, issued_at=MORNING, state="issued")
    with pytest.raises(DatabaseError), transaction.atomic():
        rows.update(file_sha256="b" * 64)
    rows.update(state="withdrawn")
    signed.refresh_from_db()
    assert signed.state == "withdrawn"


def test_signing_twice_and_signing_without_a_fresh_password(lab: Lab, submission: Submission) -> None:
    now = submission.submitted_at
    for old in (SignInProof(lab.reviewer.pk, now - timedelta(minutes=3)), proof(lab.technician, now)):
        with pytest.raises(ProofTooOld):
            sign_off(submission=submission, proof=old, by=lab.reviewer, now=now)
    _nothing_happened(submission)
    sign(lab, submission)
    with pytest.raises(NothingToReview, match="approved"):
        sign(lab, submission)
    assert Certificate.objects.count() == 1


# Due dates (refusal 9).


def _submitted(lab: Lab, sitting: Sitting, steps: int = 0, **terms: Any) -> Submission:
    laboratory.agreed(lab, **terms)
    gauge = laboratory.caliper_gauge(lab, laboratory.caliper_model(lab))
    return sitting(gauge, lambda point: steps)


def test_refusal_9_no_due_date_without_agreement(lab: Lab, sitting: Sitting) -> None:
    certificate = sign(lab, _submitted(lab, sitting))
    assert document_of(certificate).due is None
    assert "2026-06-03" not in certificate.document


def test_an_agreed_due_date_is_printed_with_the_agreement(lab: Lab, sitting: Sitting) -> None:
    due = document_of(sign(lab, _submitted(lab, sitting, due_date_printed=True))).due
    assert due is not None
    assert (due.due_on, due.agreement) == (date(2026, 6, 3), "agreed by shop lead, 2025-01-07")


def test_an_agreement_withdrawn_before_signing_prints_no_due_date(lab: Lab, sitting: Sitting) -> None:
    submission = _submitted(lab, sitting, due_date_printed=True)
    withdraw_agreement(
        department=lab.department,
        family=lab.family,
        reason="moved",
        by=laboratory.SETUP,
        now=submission.submitted_at,
    )
    assert document_of(sign(lab, submission)).due is None


def test_a_gauge_that_does_not_pass_has_no_due_date(lab: Lab, sitting: Sitting) -> None:
    assert document_of(sign(lab, _submitted(lab, sitting, 9, due_date_printed=True))).due is None


def test_limits_that_the_customer_stated_are_marked_as_theirs(lab: Lab, sitting: Sitting) -> None:
    rows = [
        {"function": name, "up_to_mm": "150", "lower_mm": "-0.05", "upper_mm": "0.05"}
        for name in laboratory.FUNCTIONS
    ]
    terms: dict[str, Any] = {
        "limit_rows": rows,
        "limits_source": "Drawing 4711, note 3",
        "limits_confirmed": True,
    }
    document = document_of(sign(lab, _submitted(lab, sitting, **terms)))
    assert document.customer_data == (
        "The limits of error were stated by the customer (Drawing 4711, note 3).",
    )
    assert document.conformity is not None
    assert document.conformity.specification == "Drawing 4711, note 3"
    assert document.conformity.by_customer


def test_the_stored_text_holds_no_binary_fractions(signed: Certificate) -> None:
    """Every number in it is a whole number or a decimal as text, so that a hash never hangs on how a float prints."""

    def walk(value: Any) -> None:
        assert not isinstance(value, float)
        for item in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
            walk(item)

    walk(json.loads(signed.document))


def test_a_released_gauge_is_given_back(lab: Lab, signed: Certificate) -> None:
    gauge, now = signed.session.gauge, signed.numbered_at + timedelta(minutes=5)
    release(gauge=gauge, handed_to_note="shop lead", by=lab.technician, now=now)
    place = whereabouts(gauge)
    assert place is not None
    assert place.kind in ("returned", "handed-over")
