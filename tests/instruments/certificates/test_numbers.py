"""Numbers: none twice, none skipped, whoever signs at the same moment; none at all after a restore until confirmed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection

from instruments.certificates.models import Certificate, NumberSeries
from instruments.certificates.operations import (
    HighestTooLow,
    SeriesNotConfirmed,
    confirm_series,
    lock_series,
    sign_off,
)
from instruments.certificates.queries import ids_of, names_of
from instruments.measuring.models import Session, Submission
from labsys.accounts.operations import ProofTooOld
from labsys.jobs.models import OwedWork
from labsys.journal.models import JournalEntry
from labsys.journal.queries import verify_chain
from labsys.journal.roles import NotAllowed
from tests import laboratory
from tests.instruments.certificates.conftest import sign
from tests.laboratory import Lab, proof

Sitting = Callable[..., Submission]
TOGETHER = 8


@pytest.fixture
def submissions(lab: Lab, sitting: Sitting) -> list[Submission]:
    """Eight calipers of one model, all measured and handed in."""
    laboratory.agreed(lab)
    model = laboratory.caliper_model(lab)
    gauges = [laboratory.caliper_gauge(lab, model, tag=f"C-{n:04}") for n in range(1, TOGETHER + 1)]
    return [sitting(gauge) for gauge in gauges]


def _all_at_once(calls: list[Callable[[], Any]]) -> list[Any]:
    """Run every call in a thread with a connection of its own, all let go at the same moment; gives what came."""
    gate = threading.Barrier(len(calls))
    answers: list[Any] = [None] * len(calls)

    def run(place: int, call: Callable[[], Any]) -> None:
        gate.wait()
        try:
            answers[place] = call()
        except Exception as problem:  # noqa: BLE001 - the test looks at what it was
            answers[place] = problem
        finally:
            connection.close()

    workers = [threading.Thread(target=run, args=item) for item in enumerate(calls)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    return answers


@pytest.mark.django_db(transaction=True)
def test_eight_who_sign_at_once_get_eight_numbers_in_a_row(lab: Lab, submissions: list[Submission]) -> None:
    now = max(one.submitted_at for one in submissions)

    def signing(submission: Submission, good: bool) -> Callable[[], Any]:
        given = proof(lab.reviewer, now if good else now - timedelta(hours=1))
        return lambda: sign_off(submission=submission, proof=given, by=lab.reviewer, now=now)

    # Two of them forget their password; their numbers must not be lost.
    answers = _all_at_once([signing(one, n not in (2, 5)) for n, one in enumerate(submissions)])
    refused = [answer for answer in answers if isinstance(answer, Exception)]
    assert [type(answer) for answer in refused] == [ProofTooOld, ProofTooOld]
    numbers = sorted(Certificate.objects.values_list("number", flat=True))
    assert numbers == [f"CAL-{n:05}" for n in range(1, TOGETHER - 1)]
    assert NumberSeries.objects.get().last == TOGETHER - 2
    assert {row.document_sha256 for row in Certificate.objects.all()} == {
        row.signature.record_sha256 for row in Certificate.objects.select_related("signature")
    }
    assert OwedWork.objects.filter(kind="render-certificate").count() == TOGETHER - 2
    assert Session.objects.filter(state="approved").count() == TOGETHER - 2
    assert verify_chain().fault is None


@pytest.mark.django_db(transaction=True)
def test_one_submission_signed_by_eight_at_once_is_one_certificate(lab: Lab, submission: Submission) -> None:
    now = submission.submitted_at

    def signing() -> Certificate:
        return sign_off(submission=submission, proof=proof(lab.reviewer, now), by=lab.reviewer, now=now)

    answers = _all_at_once([signing] * TOGETHER)
    assert sum(isinstance(answer, Certificate) for answer in answers) == 1
    assert {getattr(answer, "code", "") for answer in answers if isinstance(answer, Exception)} == {
        "nothing-to-review"
    }
    assert list(Certificate.objects.values_list("number", flat=True)) == ["CAL-00001"]


def test_a_refusal_in_between_leaves_no_gap(lab: Lab, submissions: list[Submission]) -> None:
    first, second = submissions[:2]
    sign(lab, first)
    with pytest.raises(ProofTooOld):
        old = proof(lab.reviewer, second.submitted_at - timedelta(hours=1))
        sign_off(submission=second, proof=old, by=lab.reviewer, now=second.submitted_at)
    assert sign(lab, second).number == "CAL-00002"


def _lock(lab: Lab, now: datetime) -> NumberSeries:
    lock_series(reason="restored from the backup of the night", by=lab.administrator, now=now)
    return NumberSeries.objects.get()


def test_after_a_restore_no_number_is_given_until_somebody_confirms(
    lab: Lab, submissions: list[Submission]
) -> None:
    first, second, third = submissions[:3]
    sign(lab, first)
    now = second.submitted_at
    series = _lock(lab, now)
    with pytest.raises(SeriesNotConfirmed, match="CAL-00001"):
        sign(lab, second)
    assert Certificate.objects.count() == 1
    with pytest.raises(HighestTooLow, match="Expected CAL-00001 or more"):
        confirm_series(series=series, highest=0, reason="looked", by=lab.manager, now=now)
    # Two certificates had left the laboratory after the backup: their numbers are never given again.
    confirm_series(
        series=series, highest=3, reason="CAL-00003 lies in the customer's file", by=lab.manager, now=now
    )
    entry = JournalEntry.objects.filter(act="certificates.confirm-series", outcome="done").get()
    assert (entry.after or {})["without_record"] == 2
    assert entry.reason == "CAL-00003 lies in the customer's file"
    assert sign(lab, second).number == "CAL-00004"
    assert sign(lab, third).number == "CAL-00005"


def test_the_series_may_know_less_than_the_certificates(lab: Lab, submissions: list[Submission]) -> None:
    for one in submissions[:2]:
        sign(lab, one)
    series = _lock(lab, submissions[2].submitted_at)
    NumberSeries.objects.update(last=1)
    with pytest.raises(HighestTooLow, match="CAL-00002"):
        confirm_series(
            series=series, highest=1, reason="looked", by=lab.manager, now=submissions[2].submitted_at
        )


def test_a_series_that_was_lost_begins_unconfirmed(lab: Lab, submissions: list[Submission]) -> None:
    sign(lab, submissions[0])
    NumberSeries.objects.all().delete()
    with pytest.raises(SeriesNotConfirmed):
        sign(lab, submissions[1])


@pytest.mark.parametrize("role", ["technician", "reviewer", "floor", "auditor"])
def test_who_may_not_vouch_for_numbers(lab: Lab, signed: Certificate, role: str) -> None:
    series, person = NumberSeries.objects.get(), getattr(lab, role)
    with pytest.raises(NotAllowed):
        confirm_series(series=series, highest=1, reason="x", by=person, now=signed.numbered_at)
    with pytest.raises(NotAllowed):
        lock_series(reason="x", by=person, now=signed.numbered_at)
    assert NumberSeries.objects.get().confirmed


def test_certificates_are_known_by_their_numbers(lab: Lab, signed: Certificate) -> None:
    assert names_of([signed.pk, 999_999]) == {signed.pk: "CAL-00001"}
    assert ids_of(" cal-00001 ") == [signed.pk]
    assert ids_of("CAL-00002") == []
