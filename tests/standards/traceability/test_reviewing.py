"""The review on receipt: seven answers, one decision, a signature; only then may values be used."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from labsys.accounts.models import Person, Signature
from labsys.accounts.operations import ProofTooOld, SignInProof
from labsys.journal.roles import NotAllowed
from standards.register import queries as register
from standards.register.models import Calibration, Standard
from standards.traceability import operations as acts
from standards.traceability import queries
from standards.traceability.checklist import QUESTIONS, Answer
from standards.traceability.models import Accreditation, CertificateReceived, CertificateReview
from tests.standards.conftest import REGISTERED, at, values
from tests.standards.traceability.conftest import ALL_YES

Receive = Callable[..., CertificateReceived]
Review = Callable[..., CertificateReview]


@pytest.fixture
def certificate(scope: Accreditation, blocks: Standard, receive: Receive) -> CertificateReceived:
    return receive(blocks)


def without(code: str, remark: str = "") -> dict[str, Answer]:
    return {**ALL_YES, code: Answer(False, remark)}


def test_acceptance_lets_the_values_be_used_and_is_signed(
    certificate: CertificateReceived, blocks: Standard, review: Review, reviewer: Person
) -> None:
    row = review(certificate)
    calibration = register.require_usable(blocks, at("2024-02-06"))
    assert calibration.pk == certificate.calibration_id
    assert register.usability(blocks, at("2024-02-06", 8)).code == "standard-not-reviewed"
    signature = Signature.objects.get(subject=f"certificate-received:{certificate.pk}")
    assert (signature, signature.person, signature.meaning) == (row.signature, reviewer, "accepted")
    assert row.answers["identity"] == {"yes": True, "remark": ""}


def test_a_rejection_keeps_the_values_out_for_good(
    certificate: CertificateReceived, blocks: Standard, review: Review
) -> None:
    with pytest.raises(acts.DecisionNeedsReason):
        review(certificate, "reject", answers=without("identity"))
    row = review(certificate, "reject", answers=without("identity"), reason="It is for another set.")
    assert row.signature is not None
    assert row.signature.meaning == "reviewed"
    assert not register.usability(blocks, at("2024-03-01")).ok
    with pytest.raises(acts.AlreadyReviewed, match="rejected by the reviewer before"):
        review(certificate)


def test_the_signature_stands_for_file_values_and_answers(
    scope: Accreditation, make_standard: Callable[..., Standard], receive: Receive, review: Review
) -> None:
    hashes = set()
    for number, changes in enumerate([{}, {"given": "0.0002"}, {"remark": "seen"}]):
        standard = make_standard(f"GB-1{number}")
        given = values(standard, changes["given"]) if "given" in changes else None
        row = receive(standard, number=f"N-{number}", given=given)
        answers = {**ALL_YES, "points": Answer(True, changes.get("remark", ""))}
        signature = review(row, answers=answers).signature
        assert signature is not None
        hashes.add(signature.record_sha256)
    assert len(hashes) == 3


def test_every_question_is_answered(certificate: CertificateReceived, review: Review) -> None:
    for question in QUESTIONS:
        rest = {code: answer for code, answer in ALL_YES.items() if code != question.code}
        with pytest.raises(acts.AnswerMissing, match=question.title.lower()) as refused:
            review(certificate, answers=rest)
        assert refused.value.question == question.code


def test_a_no_to_a_must_forbids_acceptance(certificate: CertificateReceived, review: Review) -> None:
    for question in QUESTIONS:
        if question.must:
            with pytest.raises(acts.AcceptanceForbidden, match=question.title):
                review(certificate, answers=without(question.code, "never mind"))


def test_a_no_that_does_no_harm_needs_its_remark(certificate: CertificateReceived, review: Review) -> None:
    with pytest.raises(acts.RemarkMissing, match="Conditions") as refused:
        review(certificate, answers=without("conditions"))
    assert refused.value.question == "conditions"
    assert review(certificate, answers=without("conditions", "Asked by telephone: 20.1 °C."))


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"file": None}, "F03"),
        ({"serial_on_certificate": "4712"}, "F05"),
        ({"quantity": "ring"}, "F08"),
        ({"u": "0.00001"}, "F11"),
    ],
)
def test_a_blocking_fault_forbids_acceptance(
    changes: dict[str, Any],
    code: str,
    scope: Accreditation,
    blocks: Standard,
    receive: Receive,
    review: Review,
) -> None:
    given = values(blocks, u=changes.pop("u")) if "u" in changes else None
    row = receive(blocks, given=given, **changes)
    with pytest.raises(acts.AcceptanceForbidden) as refused:
        review(row)
    assert code in refused.value.data["faults"]
    assert Calibration.objects.get().accepted_at is None
    assert not Signature.objects.exists()


def test_a_file_changed_before_the_review_forbids_acceptance(
    certificate: CertificateReceived, review: Review, settings: Any
) -> None:
    path = Path(settings.MEDIA_ROOT) / str(certificate.file.name)
    path.write_bytes(path.read_bytes().replace(b"endobj", b"endobX"))
    with pytest.raises(acts.AcceptanceForbidden, match="was changed"):
        review(certificate)


def test_a_broken_chain_above_forbids_acceptance(
    master: Calibration, make_standard: Callable[..., Standard], receive: Receive, review: Review, manager: Person,
    scope: Accreditation,
) -> None:  # fmt: skip
    from datetime import date

    own = acts.register_issuer(name="This laboratory", kind="in-house", by=manager, now=REGISTERED)
    row = receive(
        make_standard("RG-01"), relies_on=(master,), issuer=own, route="in-house", number="H-1",
        calibrated_on=date(2024, 4, 1), issued_on=date(2024, 4, 1), now=at("2024-04-02"),
    )  # fmt: skip
    acts.withdraw_accreditation(
        accreditation=scope,
        valid_from=at("2024-01-01"),
        reason="Found out.",
        by=manager,
        now=at("2024-04-03"),
    )
    with pytest.raises(acts.AcceptanceForbidden) as refused:
        review(row, now=at("2024-04-04"))
    assert refused.value.data["faults"] == ["F08"]


@pytest.mark.parametrize(("kind", "route"), [("institute", "3a"), ("maker", "3b")])
def test_outside_the_arrangements_the_reviewer_approves_evidence_in_writing(
    kind: str, route: str, blocks: Standard, receive: Receive, review: Review, manager: Person
) -> None:
    issuer = acts.register_issuer(name="Elsewhere", kind=kind, by=manager, now=REGISTERED)
    row = receive(blocks, issuer=issuer, route=route)
    with pytest.raises(acts.AcceptanceForbidden) as refused:
        review(row)
    assert refused.value.data["faults"] == ["F10"]
    review(row, answers={**ALL_YES, "traceability": Answer(True, "Audited on 2023-11-02, report 7.")})
    node = queries.chain_of(Calibration.objects.get(), at("2024-03-01"))
    assert (node.holds, node.is_terminus) == (True, True)
    assert "report 7" in next(check.sentence for check in node.links if check.code == "L4")


def test_a_proof_is_fresh_and_ones_own(
    certificate: CertificateReceived, reviewer: Person, manager: Person, technician: Person
) -> None:
    now = at("2024-02-06")

    def review_as(by: Person, proof: SignInProof) -> object:
        return acts.review_certificate(
            certificate=certificate,
            answers=ALL_YES,
            decision="accept",
            reason="",
            proof=proof,
            by=by,
            now=now,
        )

    with pytest.raises(ProofTooOld):
        review_as(reviewer, SignInProof(reviewer.pk, now - timedelta(minutes=3)))
    with pytest.raises(ProofTooOld):
        review_as(reviewer, SignInProof(manager.pk, now))
    with pytest.raises(NotAllowed):
        review_as(technician, SignInProof(technician.pk, now))
    assert not CertificateReview.objects.exists()
    assert review_as(manager, SignInProof(manager.pk, now))


def test_what_the_program_found_stands_beside_each_question(
    master: Calibration, receive: Receive, blocks: Standard
) -> None:
    from datetime import date

    element = {one.label: one for one in blocks.elements.all()}
    given = tuple(
        one
        if one.element != element["25"]
        else one.__class__(element["25"], Decimal("0.00025"), one.U_mm, one.k)
        for one in values(blocks)
        if one.element != element["100"]
    )
    row = receive(
        blocks, number="N-2", given=given, calibrated_on=date(2025, 1, 10), issued_on=date(2025, 1, 12),
        now=at("2025-01-20"), conditions="",
    )  # fmt: skip
    found = queries.observations(row, at("2025-01-20"))
    assert set(found) == {question.code for question in QUESTIONS}
    assert found["identity"][0].holds is True
    assert [(one.holds, one.sentence) for one in found["points"]] == [
        (False, "No value for 100. They keep the values they had.")
    ]
    # 0.15 µm apart with U = 0.1 µm each: √2 · 0.1 = 0.141 µm.
    assert [one.sentence for one in found["values"]] == [
        "25 changed by +0.15 µm, more than both U together explain."
    ]
    assert found["conditions"][0].holds is False
    assert found["signature"][0].holds is None


def test_lists_of_what_waits_and_who_relies(
    master: Calibration, reference: Calibration, working: Calibration, blocks: Standard, receive: Receive
) -> None:
    from datetime import date

    assert list(queries.waiting_for_review()) == []
    row = receive(
        blocks, number="N-9", calibrated_on=date(2024, 9, 1), issued_on=date(2024, 9, 1), now=at("2024-09-02")
    )
    assert list(queries.waiting_for_review()) == [row]
    ids = [master.standard_id, reference.standard_id, working.standard_id]
    found = queries.relied_on_by(ids, at("2024-09-02"))
    assert found == {
        master.standard_id: ((reference.standard_id, "GB-02"),),
        reference.standard_id: ((working.standard_id, "GB-03"),),
    }
    assert queries.relied_on_by(ids, at("2024-05-01", 12)) == {}


def test_scopes_that_lapse(scope: Accreditation, scope_data: Any, manager: Person) -> None:
    from dataclasses import replace
    from datetime import date

    acts.record_accreditation(
        issuer=scope.issuer, data=replace(scope_data, lapses_on=date(2024, 9, 1)), by=manager, now=REGISTERED
    )
    assert queries.lapsing_accreditations(date(2024, 8, 1), date(2024, 8, 31)) == []
    assert [row.lapses_on for row in queries.lapsing_accreditations(date(2024, 8, 1), date(2024, 9, 1))] == [
        date(2024, 9, 1)
    ]
    assert queries.lapsing_accreditations(date(2024, 9, 2), date(2024, 9, 30)) == []
