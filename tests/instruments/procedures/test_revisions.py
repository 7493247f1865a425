"""Revisions from draft to retirement: who may, what is refused by name, and what the database itself refuses."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, IntegrityError, transaction

from instruments.procedures.content import ContentFault, dump
from instruments.procedures.models import Procedure, Revision
from instruments.procedures.operations import (
    AnotherInForce,
    ChangeNotDescribed,
    DraftExists,
    DraftMovedOn,
    NoLongerDraft,
    NothingChanged,
    NotInForce,
    OwnDraft,
    ReasonMissing,
    approve_revision,
    change_draft,
    draft_revision,
    retire_revision,
    start_procedure,
)
from instruments.procedures.queries import (
    RevisionAltered,
    content_of,
    draft_of,
    predecessor,
    revision_in_force,
    revisions_in_force,
    state_words,
)
from labsys.accounts.access import NotAuthorised
from labsys.accounts.models import Activity, Person
from labsys.accounts.operations import Grant, ProofTooOld, authorise
from labsys.journal.door import hash_of
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from labsys.laboratory.operations import add_family, set_details
from tests import laboratory
from tests.instruments.procedures.conftest import NOW
from tests.laboratory import SETUP, START, Lab, proof, shipped

LATER = NOW + timedelta(hours=1)


def approve(row: Revision, by: Person, now: Any = LATER, **more: Any) -> Revision:
    return approve_revision(revision=row, proof=proof(by, now), by=by, now=now, **more)


def test_a_draft_is_kept_canonically_with_its_hash_and_author(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    row = draft()
    assert (row.number, row.approved_at, row.drafted_by) == (2, None, "The technician")
    assert row.content == dump(shipped(repeats=3)) and row.content_sha256 == hash_of(row.content)
    assert row.authors == [f"person:{lab.technician.pk}"]
    assert draft_of(lab.revision.procedure) == row
    assert revision_in_force(lab.family, NOW) == lab.revision  # a draft changes nothing at the bench


def test_approving_puts_it_in_force_and_retires_the_one_before_at_the_same_instant(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    row = approve(draft(), lab.reviewer)
    lab.revision.refresh_from_db()
    assert row.approved_at == lab.revision.retired_at == LATER
    assert row.approval is not None
    assert (row.approval.record_sha256, row.approval.subject) == (row.content_sha256, f"revision:{row.pk}")
    assert revision_in_force(lab.family, LATER - timedelta(microseconds=1)) == lab.revision
    assert revision_in_force(lab.family, LATER) == row
    assert content_of(row).repeats == 3
    assert [state_words(one, LATER) for one in (row, lab.revision)] == ["in force", "retired"]
    assert predecessor(row) == lab.revision and predecessor(lab.revision) is None


def test_no_revision_was_in_force_before_the_first_was_approved(lab: Lab) -> None:
    assert revision_in_force(lab.family, START - timedelta(seconds=1)) is None
    assert revision_in_force(lab.family, START) == lab.revision


def test_what_is_in_force_for_several_families_is_one_query(
    lab: Lab, draft: Callable[..., Revision], django_assert_num_queries: Any
) -> None:
    row = approve(draft(), lab.reviewer)
    without = add_family(
        code="other", name="Other", bench_hours=Decimal(1), interval_months=12, by=SETUP, now=START
    )
    with django_assert_num_queries(1):
        before = revisions_in_force([lab.family, without], LATER - timedelta(microseconds=1))
    assert before == {lab.family.pk: lab.revision}
    assert revisions_in_force([lab.family, without], LATER) == {lab.family.pk: row}


def test_every_act_leaves_its_entry(lab: Lab, draft: Callable[..., Revision]) -> None:
    row = draft()
    change_draft(revision=row, content_text=dump(shipped(repeats=2)), change="two", by=lab.manager, now=NOW)
    approve(Revision.objects.get(pk=row.pk), lab.reviewer)
    acts = (
        JournalEntry.objects.filter(subject=f"revision:{row.pk}")
        .values_list("act", flat=True)
        .order_by("sequence")
    )
    assert list(acts) == [
        "procedures.draft-revision",
        "procedures.change-draft",
        "accounts.sign",
        "procedures.approve-revision",
    ]


def test_one_draft_at_a_time(lab: Lab, draft: Callable[..., Revision]) -> None:
    draft()
    with pytest.raises(DraftExists, match="revision 2"):
        draft()


def test_the_database_too_allows_one_draft(lab: Lab, draft: Callable[..., Revision]) -> None:
    row = draft()
    row.pk, row.number = None, 3
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_whoever_wrote_on_a_draft_does_not_approve_it(lab: Lab, draft: Callable[..., Revision]) -> None:
    row = draft(by=lab.reviewer)
    with pytest.raises(OwnDraft, match="The reviewer wrote on"):
        approve(row, lab.reviewer)


def test_whoever_only_changed_a_comma_does_not_approve_it_either(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    row = draft()
    change_draft(revision=row, content_text=dump(shipped(repeats=2)), change="two", by=lab.reviewer, now=NOW)
    row.refresh_from_db()
    assert row.authors == [f"person:{lab.technician.pk}", f"person:{lab.reviewer.pk}"]
    assert row.drafted_by == "The technician"
    with pytest.raises(OwnDraft):
        approve(row, lab.reviewer)


def test_a_laboratory_of_one_approves_its_own_by_recorded_decision(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    row = draft(by=lab.reviewer)
    set_details(
        name="Laboratory of one", address="1 Works Road", contact="the laboratory", second_signature=False,
        reason="one person only, decided by the management", by=SETUP, now=NOW,
    )  # fmt: skip
    assert approve(row, lab.reviewer).approved_at == LATER


def test_approving_needs_role_and_authorisation(lab: Lab, draft: Callable[..., Revision]) -> None:
    row = draft()
    with pytest.raises(NotAllowed):
        approve(row, lab.technician)
    with pytest.raises(NotAuthorised, match="approve procedures"):
        approve(row, lab.manager)  # the role alone is not enough
    grant = Grant(lab.manager, Activity.APPROVE_PROCEDURES, lab.family, evidence="appointed")
    authorise(grant=grant, valid_from=NOW, by=SETUP, now=NOW)
    assert approve(row, lab.manager).approval is not None


def test_approving_needs_a_fresh_sign_in_and_nothing_is_kept_without(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    row = draft()
    with pytest.raises(ProofTooOld):
        approve_revision(revision=row, proof=proof(lab.reviewer, NOW), by=lab.reviewer, now=LATER)
    row.refresh_from_db()
    assert row.approved_at is None and row.approval is None
    assert revision_in_force(lab.family, LATER) == lab.revision
    assert JournalEntry.objects.filter(outcome=JournalEntry.Outcome.REFUSED).count() == 1


def test_what_was_read_is_what_is_signed(lab: Lab, draft: Callable[..., Revision]) -> None:
    row = draft()
    seen = row.content_sha256
    change_draft(revision=row, content_text=dump(shipped(repeats=9)), change="nine", by=lab.manager, now=NOW)
    with pytest.raises(DraftMovedOn):
        approve(row, lab.reviewer, seen_sha256=seen)
    with pytest.raises(DraftMovedOn):
        change_draft(
            revision=row, content_text=dump(shipped(repeats=2)), change="two", by=lab.technician, now=NOW
        )
    assert Revision.objects.get(pk=row.pk).content == dump(shipped(repeats=9))


def test_a_revision_that_says_the_same_is_not_approved(lab: Lab, draft: Callable[..., Revision]) -> None:
    row = draft(content=shipped())
    with pytest.raises(NothingChanged):
        approve(row, lab.reviewer)


def test_a_later_revision_says_what_changed_and_the_first_need_not(lab: Lab) -> None:
    text = dump(shipped(repeats=3))
    with pytest.raises(ChangeNotDescribed):
        draft_revision(
            procedure=lab.revision.procedure, content_text=text, change="  ", by=lab.technician, now=NOW
        )
    other = start_procedure(code="CAL-2", title="Long calipers", family=lab.family, by=lab.manager, now=NOW)
    first = draft_revision(procedure=other, content_text=text, change="", by=lab.technician, now=NOW)
    assert first.number == 1


def test_a_bad_content_is_refused_and_nothing_is_lost(lab: Lab, draft: Callable[..., Revision]) -> None:
    row = draft()
    with pytest.raises(ContentFault, match="at digits: expected a whole number from 1 to 2, found 3"):
        bad = dump(shipped()).replace('"digits":2', '"digits":3')
        change_draft(revision=row, content_text=bad, change="x", by=lab.technician, now=NOW)
    assert Revision.objects.get(pk=row.pk).content_sha256 == row.content_sha256


def test_a_second_procedure_of_the_family_waits_until_the_first_is_retired(lab: Lab) -> None:
    other = start_procedure(code="CAL-2", title="Calipers, short", family=lab.family, by=lab.manager, now=NOW)
    row = draft_revision(procedure=other, content_text=dump(shipped()), change="", by=lab.technician, now=NOW)
    with pytest.raises(AnotherInForce, match="CAL-1 revision 1 is in force"):
        approve(row, lab.reviewer)
    retire_revision(revision=lab.revision, reason="replaced by CAL-2", by=lab.reviewer, now=LATER)
    assert revision_in_force(lab.family, LATER) is None
    approve(row, lab.reviewer)
    assert revision_in_force(lab.family, LATER) == row


def test_retiring_takes_a_reason_and_a_revision_in_force(lab: Lab, draft: Callable[..., Revision]) -> None:
    row = draft()
    with pytest.raises(NotInForce, match="is a draft"):
        retire_revision(revision=row, reason="not needed", by=lab.manager, now=NOW)
    with pytest.raises(ReasonMissing):
        retire_revision(revision=lab.revision, reason=" ", by=lab.manager, now=NOW)
    with pytest.raises(NotAllowed):
        retire_revision(revision=lab.revision, reason="old", by=lab.technician, now=NOW)
    retire_revision(revision=lab.revision, reason="old", by=lab.manager, now=NOW)
    with pytest.raises(NotInForce, match="retired already"):
        retire_revision(revision=lab.revision, reason="again", by=lab.manager, now=LATER)


def test_an_approved_revision_is_neither_changed_nor_approved_again(lab: Lab) -> None:
    with pytest.raises(NoLongerDraft):
        change_draft(
            revision=lab.revision, content_text=dump(shipped(repeats=2)), change="x", by=lab.manager, now=NOW
        )
    with pytest.raises(NoLongerDraft):
        approve(lab.revision, lab.reviewer)


FROZEN: list[dict[str, Any]] = [
    {"content": "{}"},
    {"content_sha256": "0" * 64},
    {"change": "nothing"},
    {"authors": []},
    {"number": 7},
    {"drafted_by": "somebody"},
    {"approved_at": LATER},
    {"approved_at": None, "approval": None},
]


def test_the_database_itself_freezes_what_was_signed(lab: Lab) -> None:
    for change in FROZEN:
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            Revision.objects.filter(pk=lab.revision.pk).update(**change)
    assert content_of(Revision.objects.get(pk=lab.revision.pk)) == shipped()


def test_the_database_lets_a_revision_retire_once(lab: Lab) -> None:
    Revision.objects.filter(pk=lab.revision.pk).update(retired_at=NOW)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Revision.objects.filter(pk=lab.revision.pk).update(retired_at=LATER)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Revision.objects.filter(pk=lab.revision.pk).update(retired_at=None)


def test_a_content_that_was_altered_past_the_program_is_not_read(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    row = draft()
    Revision.objects.filter(pk=row.pk).update(content=dump(shipped(repeats=4)))  # a draft isn't frozen yet
    with pytest.raises(RevisionAltered, match=f"{row.content_sha256} was kept"):
        content_of(Revision.objects.get(pk=row.pk))


def test_neither_a_draft_nor_an_approved_revision_is_deleted(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    for row in (draft(), lab.revision):
        with pytest.raises(DatabaseError), transaction.atomic():
            Revision.objects.filter(pk=row.pk)._raw_delete("default")  # past Django's own protection
        assert Revision.objects.filter(pk=row.pk).exists()


def test_who_may_not_draft_is_refused(lab: Lab, draft: Callable[..., Revision]) -> None:
    for person in (lab.floor, lab.auditor, lab.administrator):
        with pytest.raises(NotAllowed):
            start_procedure(code="X", title="X", family=lab.family, by=person, now=NOW)
        with pytest.raises(NotAllowed):
            draft(by=person)
    assert draft_of(lab.revision.procedure) is None


def test_a_procedure_code_is_unique(lab: Lab) -> None:
    with pytest.raises(ValidationError):
        start_procedure(code="CAL-1", title="Again", family=lab.family, by=lab.manager, now=NOW)
    assert Procedure.objects.count() == 1


def test_an_inch_and_a_metric_model_both_pass_the_shipped_procedure(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    laboratory.caliper_model(lab)
    laboratory.caliper_model(lab, inch=True)
    assert approve(draft(), lab.reviewer).approved_at == LATER
