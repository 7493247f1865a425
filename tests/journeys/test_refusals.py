"""What the program refuses whoever asks: one test for each of the thirteen refusals that its rooms can meet.

The numbers are those of the laboratory's own list of requirements, drawn from ISO/IEC 17025:2017 (6.2.6, 6.4.9,
6.4.13, 6.5, 7.5.2, 7.8.3, 7.8.4.3, 7.8.6, 7.10, 8.4) and ISO 9001:2015 (7.1.5.2). Refusals 5 and 6 (U below the
accredited capability; a mark outside the scope) and 12 (closing a case with an item undecided) have no room to
happen in: certificates carry no accreditation mark, and there are no cases yet.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.auth.models import Group
from django.db import DatabaseError, transaction
from django.db.models import ProtectedError

from instruments.certificates.models import Certificate
from instruments.certificates.operations import sign_off
from instruments.certificates.queries import document_of
from instruments.inventory.models import Gauge
from instruments.measuring.models import PointReference, Reading, Result, Review, SetAside, Submission
from instruments.measuring.operations import add_point, open_session, submit
from instruments.measuring.operations.opening import NothingAgreed
from instruments.measuring.operations.reviewing import OwnWorkReviewed
from instruments.measuring.operations.submitting import StillOpen
from instruments.recall.operations import extend, release
from instruments.recall.operations.custody import NotVerified
from instruments.recall.operations.intervals import AlreadyExtended, ExtensionBeyondCap
from instruments.recall.queries import due_on
from labsys.accounts.access import NotAuthorised
from labsys.accounts.models import Activity
from labsys.accounts.operations import Grant, authorise, withdraw_authorisation
from labsys.journal.models import JournalEntry
from labsys.laboratory.operations import withdraw_agreement
from standards.register.operations import change_state, withdraw_element
from standards.register.queries import StandardOutOfRange
from tests import laboratory
from tests.bench import MORNING, Player
from tests.instruments.certificates.traced import trace
from tests.laboratory import Lab, proof

Sit = Callable[..., Player]


@pytest.fixture
def measured(lab: Lab, gauge: Gauge, sit: Sit) -> tuple[Player, Submission]:
    """A caliper measured against traced standards and handed in."""
    trace(lab)
    player = sit(gauge)
    player.begin()
    player.read_off()
    return player, player.finish()


@pytest.fixture
def signed(lab: Lab, measured: tuple[Player, Submission]) -> tuple[Player, Certificate]:
    player, submission = measured
    made = sign_off(
        submission=submission, proof=proof(lab.reviewer, player.now), by=lab.reviewer, now=player.now
    )
    return player, made


def refused(code: str) -> bool:
    """Say whether the journal has the refusal."""
    return JournalEntry.objects.filter(outcome="refused", after__code=code).exists()


def test_1_nobody_signs_without_an_authorisation_in_force(
    lab: Lab, measured: tuple[Player, Submission]
) -> None:
    player, submission = measured
    withdraw_authorisation(
        person=lab.reviewer, activity=Activity.REVIEW, family=lab.family, reason="moved on",
        by=laboratory.SETUP, now=player.now,
    )  # fmt: skip
    with pytest.raises(NotAuthorised):
        sign_off(
            submission=submission, proof=proof(lab.reviewer, player.now), by=lab.reviewer, now=player.now
        )
    assert not Certificate.objects.exists()
    assert refused("not-authorised")


def test_2_nobody_signs_their_own_work(lab: Lab, gauge: Gauge, sit: Sit) -> None:
    trace(lab)
    lab.technician.groups.add(Group.objects.get(name="reviewer"))
    for activity in (Activity.REVIEW, Activity.AUTHORISE):
        authorise(
            grant=Grant(lab.technician, activity, lab.family), valid_from=laboratory.START,
            by=laboratory.SETUP, now=laboratory.START,
        )  # fmt: skip
    person = type(lab.technician).objects.get(pk=lab.technician.pk)
    player = sit(gauge, by=person)
    player.begin()
    player.read_off()
    submission = player.finish()
    with pytest.raises(OwnWorkReviewed):
        sign_off(submission=submission, proof=proof(person, player.now), by=person, now=player.now)
    assert not Certificate.objects.exists()
    assert refused("own-work-reviewed")


@pytest.mark.parametrize("how", ["overdue", "out of service", "outside its range"])
def test_3_a_standard_that_does_not_hold_is_not_used(lab: Lab, gauge: Gauge, sit: Sit, how: str) -> None:
    when = laboratory.START + timedelta(days=800) if how == "overdue" else MORNING
    if how == "out of service":
        change_state(
            standard=lab.blocks, state="out-of-service", reason="dropped", by=lab.manager,
            now=when - timedelta(days=1),
        )  # fmt: skip
    if how == "overdue":
        _authorise_again(lab)
    player = sit(gauge, at=when)
    if how == "outside its range":
        element = lab.blocks.elements.filter(nominal_mm=100).first()
        assert element is not None
        withdraw_element(element=element, reason="chipped", by=lab.manager, now=player.now)
        with pytest.raises(StandardOutOfRange):
            add_point(
                run=player.run, function="outside", place="middle", elements=[(element, 1)], by=player.by,
                now=player.now,
            )  # fmt: skip
        assert refused("standard-out-of-range")
        return
    assert not any(row.standard_id == lab.blocks.pk for row in player.run.standards.all())
    assert not PointReference.objects.filter(element_value__element__standard=lab.blocks).exists()
    with pytest.raises(StillOpen):
        submit(session=player.session, by=player.by, now=player.now)


def test_4_no_verdict_without_limits_and_a_rule_agreed(
    lab: Lab, gauge: Gauge, bring: Callable[..., Gauge]
) -> None:
    model = laboratory.caliper_model(lab, designation="C-151")
    bare = laboratory.caliper_gauge(lab, model, tag="C-0002")
    withdraw_agreement(
        department=lab.department, family=lab.family, reason="expired", by=laboratory.SETUP, now=MORNING
    )
    bring(bare)
    with pytest.raises(NothingAgreed):
        open_session(gauge=bare, place=lab.bench, by=lab.technician, now=MORNING + timedelta(hours=2))
    assert refused("nothing-agreed")
    assert not Result.objects.exists()


def test_7_and_8_a_signed_record_is_neither_edited_nor_deleted(
    lab: Lab, signed: tuple[Player, Certificate]
) -> None:
    _, certificate = signed
    for rows, change in (
        (Reading.objects.all(), {"raw": "1"}),
        (Result.objects.all(), {"verdict": "in_tolerance"}),
        (Review.objects.all(), {"reason": "x"}),
        (Submission.objects.all(), {"record": "{}"}),
        (Certificate.objects.filter(pk=certificate.pk), {"document": "{}"}),
        (JournalEntry.objects.all(), {"reason": "x"}),
    ):
        assert rows.exists()
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.update(**change)
        with pytest.raises((DatabaseError, ProtectedError)), transaction.atomic():
            rows.delete()


def test_9_no_due_date_on_a_certificate_unless_it_was_agreed(
    lab: Lab, signed: tuple[Player, Certificate]
) -> None:
    player, certificate = signed
    due = due_on(player.session.gauge, player.now)
    assert due is not None, "there is one, and it is not told"
    assert document_of(certificate).due is None
    assert due.isoformat() not in certificate.document


def test_10_nothing_goes_back_into_service_unverified(lab: Lab, gauge: Gauge, sit: Sit) -> None:
    player = sit(gauge)
    with pytest.raises(NotVerified):
        release(gauge=gauge, handed_to_note="line 2", by=lab.technician, now=player.now)
    assert refused("not-verified")


def test_11_a_due_date_is_extended_once_and_never_beyond_the_cap(
    lab: Lab, signed: tuple[Player, Certificate]
) -> None:
    player, _ = signed
    gauge, now = player.session.gauge, player.now + timedelta(days=300)
    due = due_on(gauge, now)
    assert due is not None
    release(gauge=gauge, handed_to_note="line 2", by=lab.technician, now=player.now)
    with pytest.raises(ExtensionBeyondCap):
        extend(gauge=gauge, to_on=due + timedelta(days=31), reason="urgent order", by=lab.manager, now=now)
    extend(gauge=gauge, to_on=due + timedelta(days=5), reason="urgent order", by=lab.manager, now=now)
    with pytest.raises(AlreadyExtended):
        extend(gauge=gauge, to_on=due + timedelta(days=9), reason="another order", by=lab.manager, now=now)


@pytest.mark.parametrize(
    ("shift", "code"),
    [(timedelta(days=1), "measured-in-the-future"), (timedelta(hours=-9), "measured-before-receipt")],
)
def test_13_nothing_is_dated_later_than_now_or_before_the_gauge_came(
    player: Player, shift: timedelta, code: str
) -> None:
    player.begin()
    at = (player.now + shift).isoformat()
    found = player.send("reading", point=player.points()[0].pk, raw="41.30", measured_at=at)
    assert isinstance(found, SetAside) and found.code == code
    assert not Reading.objects.exists()
    with pytest.raises(StillOpen, match="set aside"):
        submit(session=player.session, by=player.by, now=player.now)


def _authorise_again(lab: Lab) -> None:
    for person, activity in ((lab.technician, Activity.MEASURE), (lab.reviewer, Activity.REVIEW)):
        authorise(
            grant=Grant(person, activity, lab.family), valid_from=laboratory.START + timedelta(days=700),
            by=laboratory.SETUP, now=laboratory.START + timedelta(days=700),
        )  # fmt: skip
