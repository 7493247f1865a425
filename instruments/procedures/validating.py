"""Evidence that a draft was tried before it was approved: keeping it, and finding what was kept.

Lives here: the act and its reads. May not live here: the trial itself, which needs what was measured
(``instruments.measuring.dry_run``).
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import ClassVar

from django.db.models import QuerySet

from instruments.procedures.access import APPROVE_PROCEDURES
from instruments.procedures.models import Procedure, ProcedureValidation, Revision
from instruments.procedures.operations import DraftMovedOn, NoLongerDraft
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import act, hash_of, note
from labsys.journal.roles import require


class AlreadyKept(LabError, ValueError):
    """The very same outcome stands already."""

    code: ClassVar[str] = "already-kept"
    sentence: ClassVar[str] = (
        "This outcome of {revision} is kept already, word for word. There is nothing to add to it."
    )


class NothingTried(LabError, ValueError):
    """An outcome without a session is no evidence."""

    code: ClassVar[str] = "nothing-tried"
    sentence: ClassVar[str] = (
        "No past session of the family was judged again, so there is nothing to keep. Approve {revision} without it, "
        "or wait until something was measured."
    )


@dataclass(frozen=True)
class Counts:
    """What stands at the head of an outcome; ``unjudged_count``: results that lose their verdict."""

    session_count: int
    result_count: int
    changed_count: int
    unjudged_count: int


@act("procedures.keep-validation")
def keep_validation(
    *, revision: Revision, rule: str, counts: Counts, record: str, by: Person, now: datetime
) -> ProcedureValidation:
    """Keep the outcome of trying a draft on past sessions as evidence, tied to the content that was tried.

    ``revision`` is the draft as it was tried, ``record`` the canonical text of the outcome. Raises NoLongerDraft,
    DraftMovedOn, NothingTried, AlreadyKept.
    """
    require(by, APPROVE_PROCEDURES)
    # The procedure's row first, as drafting, changing and approving do: no draft moves on while it is kept.
    Procedure.objects.select_for_update().get(pk=revision.procedure_id)
    row = Revision.objects.select_related("procedure").get(pk=revision.pk)
    subject = f"revision:{row.pk}"
    if row.approved_at is not None:
        raise NoLongerDraft(revision=str(row), subject=subject)
    if row.content_sha256 != revision.content_sha256:
        raise DraftMovedOn(revision=str(row), subject=subject)
    if not counts.session_count:
        raise NothingTried(revision=str(row), subject=subject)
    digest = hash_of(record)
    if row.validations.filter(record_sha256=digest).exists():
        raise AlreadyKept(revision=str(row), subject=subject)
    kept = ProcedureValidation.objects.create(
        revision=row,
        content_sha256=row.content_sha256,
        rule=rule,
        **asdict(counts),
        record=record,
        record_sha256=digest,
        kept_at=now,
        kept_by=by,
    )
    told = {"content_sha256": row.content_sha256, "record_sha256": digest, "rule": rule, **asdict(counts)}
    note(subject, after=told)
    return kept


def validations() -> QuerySet[ProcedureValidation]:
    """Find what was kept, newest first, with the revision and who kept it."""
    rows = ProcedureValidation.objects.select_related("revision__procedure__family", "kept_by")
    return rows.order_by("-kept_at", "-pk")


def validation_of(revision: Revision) -> ProcedureValidation | None:
    """Find the newest outcome kept for the content a revision has; without one the newest of any; None for neither.

    Whether it speaks of the revision as it is, its ``content_sha256`` says.
    """
    kept = list(validations().filter(revision=revision).defer("record"))
    same = (row for row in kept if row.content_sha256 == revision.content_sha256)
    return next(same, kept[0] if kept else None)
