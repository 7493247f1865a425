"""Acts on procedures: starting one, drafting and changing a revision, approving it by signature, retiring it."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from django.db.models import Max

from instruments.procedures.access import APPROVE_PROCEDURES, DRAFT_PROCEDURES
from instruments.procedures.content import dump, parse
from instruments.procedures.models import Procedure, Revision
from instruments.procedures.queries import draft_of, predecessor, revision_in_force
from instruments.procedures.simulated import simulate_trials
from instruments.procedures.trial import require_workable
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person, Signature
from labsys.accounts.operations import SignInProof, sign
from labsys.errors import LabError
from labsys.journal.door import Acting, act, canonical, hash_of, note
from labsys.journal.roles import require
from labsys.laboratory.models import Family
from labsys.laboratory.queries import details_in_force


class DraftExists(LabError, ValueError):
    """A procedure has one draft at a time."""

    code: ClassVar[str] = "draft-exists"
    sentence: ClassVar[str] = (
        "{procedure} already has a draft, revision {number}. Change or approve that one before starting another."
    )


class MeasuresAnotherQuantity(LabError, ValueError):
    """A content of angles for a family that measures lengths, or the other way round."""

    code: ClassVar[str] = "measures-another-quantity"
    field: ClassVar[str | None] = "content"
    sentence: ClassVar[str] = (
        "The family {family} measures {expected}s, and this content is of {found}s. Choose another content, or start "
        "a procedure for another family."
    )


class NoLongerDraft(LabError, ValueError):
    """An approved revision stays as it was signed."""

    code: ClassVar[str] = "no-longer-draft"
    sentence: ClassVar[str] = (
        "{revision} is approved, so its content stays as it was signed. Draft a new revision instead."
    )


class DraftMovedOn(LabError, ValueError):
    """Somebody else changed the draft meanwhile."""

    code: ClassVar[str] = "draft-moved-on"
    sentence: ClassVar[str] = (
        "{revision} was changed by somebody else after you opened it. Open it again and repeat what you meant."
    )


class NothingChanged(LabError, ValueError):
    """A revision that says the same as the one before."""

    code: ClassVar[str] = "nothing-changed"
    sentence: ClassVar[str] = (
        "{revision} says exactly what the revision before it says, so there is nothing to approve. Change it first."
    )


class ChangeNotDescribed(LabError, ValueError):
    """A later revision says what changed and why."""

    code: ClassVar[str] = "change-not-described"
    field: ClassVar[str | None] = "change"
    sentence: ClassVar[str] = "Say what changes against the revision before, and why: auditors start here."


class OwnDraft(LabError, PermissionError):
    """Whoever wrote on a draft does not approve it."""

    code: ClassVar[str] = "own-draft"
    sentence: ClassVar[str] = (
        "{name} wrote on {revision} and can't approve it. Ask another person who is authorised to approve procedures."
    )


class AnotherInForce(LabError, ValueError):
    """A family has one procedure in force."""

    code: ClassVar[str] = "another-in-force"
    sentence: ClassVar[str] = (
        "{other} is in force for the family {family}. Retire it first, so that the bench has one procedure only."
    )


class NotInForce(LabError, ValueError):
    """Only an approved revision that isn't retired yet can be retired."""

    code: ClassVar[str] = "not-in-force"
    sentence: ClassVar[str] = "{revision} is {state}, so it can't be retired. Only a revision in force can."


class ReasonMissing(LabError, ValueError):
    """Retiring a revision takes a reason."""

    code: ClassVar[str] = "reason-missing"
    field: ClassVar[str | None] = "reason"
    sentence: ClassVar[str] = "Say why {revision} is retired; the reason stays in the journal."


@act("procedures.start-procedure")
def start_procedure(*, code: str, title: str, family: Family, by: Acting, now: datetime) -> Procedure:
    """Record a procedure for a family, without a revision yet; raises ValidationError when the code is taken."""
    require(by, DRAFT_PROCEDURES)
    row = Procedure(code=code.strip(), title=title.strip(), family=family)
    row.full_clean()
    row.save()
    note(f"procedure:{row.pk}", after={"code": row.code, "title": row.title, "family": family.code})
    return row


@act("procedures.draft-revision")
def draft_revision(
    *, procedure: Procedure, content_text: str, change: str, by: Acting, now: datetime
) -> Revision:
    """Start the next revision of a procedure with a content.

    Raises ContentFault or ContentNotJson for the content, MeasuresAnotherQuantity, DraftExists, ChangeNotDescribed.
    """
    require(by, DRAFT_PROCEDURES)
    text = _content_for(procedure.family, content_text)
    locked = Procedure.objects.select_for_update().get(pk=procedure.pk)
    existing = draft_of(locked)
    if existing is not None:
        raise DraftExists(procedure=str(locked), number=existing.number, subject=f"procedure:{locked.pk}")
    last: int = locked.revisions.aggregate(last=Max("number"))["last"] or 0
    _require_change(change, first=last == 0)
    actor = by.as_actor()
    row = Revision.objects.create(
        procedure=locked,
        number=last + 1,
        content=text,
        content_sha256=hash_of(text),
        change=change.strip(),
        drafted_by=actor.name,
        drafted_by_id_text=actor.id,
        drafted_at=now,
        authors=[actor.id],
    )
    note(f"revision:{row.pk}", after=_facts(row))
    return row


@act("procedures.change-draft")
def change_draft(
    *,
    revision: Revision,
    content_text: str,
    change: str,
    by: Acting,
    now: datetime,
    based_on_sha256: str | None = None,
) -> Revision:
    """Replace what a draft says. ``based_on_sha256`` is the content the change was made from (None: ``revision``'s).

    Raises ContentFault or ContentNotJson for the content, MeasuresAnotherQuantity, NoLongerDraft, DraftMovedOn,
    ChangeNotDescribed.
    """
    require(by, DRAFT_PROCEDURES)
    text = _content_for(revision.procedure.family, content_text)
    row = _locked_draft(revision, based_on_sha256)
    _require_change(change, first=row.number == 1)
    before = _facts(row)
    actor = by.as_actor()
    row.content, row.content_sha256, row.change = text, hash_of(text), change.strip()
    if actor.id not in row.authors:
        row.authors = [*row.authors, actor.id]
    row.save(update_fields=["content", "content_sha256", "change", "authors"])
    note(f"revision:{row.pk}", before=before, after=_facts(row))
    return row


@act("procedures.approve-revision")
def approve_revision(
    *, revision: Revision, proof: SignInProof, by: Person, now: datetime, seen_sha256: str | None = None
) -> Revision:
    """Freeze a draft and put it in force, signed over the hash of its content; the revision before is retired with it.

    First order against simulation at the points tried is kept with it (JCGM 101:2008, 8), its hash in the journal.
    ``seen_sha256`` is the content the signer read (None: ``revision`` as given). Raises NotAuthorised,
    NoLongerDraft, DraftMovedOn, OwnDraft, NothingChanged, AnotherInForce, RuleNotWorkable, ProofTooOld.
    """
    require(by, APPROVE_PROCEDURES)
    row = _locked_draft(revision, seen_sha256)
    family = row.procedure.family
    require_authorised(by, Activity.APPROVE_PROCEDURES, family, now)
    _refuse_own_draft(row, by, now)
    _refuse_unchanged(row)
    standing = _standing_of_this(row, now)
    content = parse(row.content)
    row.comparison = simulate_trials(content, row.content_sha256, require_workable(content, family, now))
    row.approval = sign(
        meaning=Signature.Meaning.APPROVED,
        subject=f"revision:{row.pk}",
        record_sha256=row.content_sha256,
        proof=proof,
        by=by,
        now=now,
    )
    row.approved_at = now
    row.save(update_fields=["approved_at", "approval", "comparison"])
    compared = hash_of(canonical(row.comparison))
    note(f"revision:{row.pk}", after={**_facts(row), "approved_at": now, "comparison_sha256": compared})
    if standing is not None:
        _retire(standing, f"{row} took its place", now)
    return row


@act("procedures.retire-revision")
def retire_revision(*, revision: Revision, reason: str, by: Acting, now: datetime) -> Revision:
    """Take a revision out of force; it stays readable. Raises NotInForce, ReasonMissing."""
    require(by, APPROVE_PROCEDURES)
    row = Revision.objects.select_for_update().select_related("procedure").get(pk=revision.pk)
    if not reason.strip():
        raise ReasonMissing(revision=str(row), subject=f"revision:{row.pk}")
    if row.approved_at is None or row.retired_at is not None:
        state = "a draft" if row.approved_at is None else "retired already"
        raise NotInForce(revision=str(row), state=state, subject=f"revision:{row.pk}")
    _retire(row, reason.strip(), now)
    return row


def _content_for(family: Family, content_text: str) -> str:
    """Write a content canonically; raises what ``parse`` raises, and MeasuresAnotherQuantity."""
    content = parse(content_text)
    if content.quantity != family.quantity:
        raise MeasuresAnotherQuantity(family=family.name, expected=family.quantity, found=content.quantity)
    return dump(content)


def _retire(row: Revision, reason: str, now: datetime) -> None:
    row.retired_at = now
    row.save(update_fields=["retired_at"])
    note(f"revision:{row.pk}", reason=reason, before={"retired_at": None}, after={"retired_at": now})


def _locked_draft(revision: Revision, seen_sha256: str | None) -> Revision:
    """Lock a draft for a change; raises NoLongerDraft, or DraftMovedOn where it isn't what the person saw."""
    # The procedure's row first: drafting, changing and approving then queue in one order.
    Procedure.objects.select_for_update().get(pk=revision.procedure_id)
    row = Revision.objects.select_related("procedure__family").get(pk=revision.pk)
    if row.approved_at is not None:
        raise NoLongerDraft(revision=str(row), subject=f"revision:{row.pk}")
    if row.content_sha256 != (seen_sha256 or revision.content_sha256):
        raise DraftMovedOn(revision=str(row), subject=f"revision:{row.pk}")
    return row


def _require_change(change: str, *, first: bool) -> None:
    if not first and not change.strip():
        raise ChangeNotDescribed()


def _refuse_own_draft(row: Revision, by: Person, now: datetime) -> None:
    details = details_in_force(now)
    works_with_one_signature = details is not None and not details.second_signature
    if by.as_actor().id in row.authors and not works_with_one_signature:
        raise OwnDraft(name=by.name, revision=str(row), subject=f"revision:{row.pk}")


def _refuse_unchanged(row: Revision) -> None:
    before = predecessor(row)
    if before is not None and before.content_sha256 == row.content_sha256:
        raise NothingChanged(revision=str(row), subject=f"revision:{row.pk}")


def _standing_of_this(row: Revision, now: datetime) -> Revision | None:
    """Give the revision in force that this one replaces; raises AnotherInForce where it is another procedure's."""
    family = row.procedure.family
    standing = revision_in_force(family, now)
    if standing is not None and standing.procedure_id != row.procedure_id:
        raise AnotherInForce(other=str(standing), family=family.name.lower(), subject=f"revision:{row.pk}")
    return standing


def _facts(row: Revision) -> dict[str, Any]:
    return {"number": row.number, "content_sha256": row.content_sha256, "change": row.change}
