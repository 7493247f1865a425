"""Reads about procedures: which revision was in force, what it says, what awaits approval."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from functools import lru_cache
from typing import ClassVar

from django.db.models import Prefetch, Q, QuerySet

from instruments.procedures.content import Content, parse
from instruments.procedures.models import Procedure, Revision
from labsys.errors import LabError
from labsys.journal.door import hash_of
from labsys.laboratory.models import Family


def revision_in_force(family: Family, at: datetime) -> Revision | None:
    """Find the revision by which a gauge of ``family`` was to be calibrated at ``at``; None when none was in force.

    Approved at or before ``at``, not retired by then; of several the one approved last.
    """
    return _in_force(at).filter(procedure__family=family).first()


def revisions_in_force(families: Iterable[Family], at: datetime) -> dict[int, Revision]:
    """Find what ``revision_in_force`` finds, for several families in one query; by the family's id."""
    found: dict[int, Revision] = {}
    for revision in _in_force(at).filter(procedure__family__in=list(families)):
        found.setdefault(revision.procedure.family_id, revision)
    return found


def _in_force(at: datetime) -> QuerySet[Revision]:
    return (
        Revision.objects.filter(approved_at__lte=at)
        .filter(Q(retired_at=None) | Q(retired_at__gt=at))
        .select_related("procedure", "procedure__family")
        .order_by("-approved_at", "-number", "-pk")
    )


class RevisionAltered(LabError):
    """A revision's content isn't the one whose hash was kept, and perhaps signed."""

    code: ClassVar[str] = "revision-altered"
    sentence: ClassVar[str] = (
        "The content of {revision} has the SHA-256 {found}, but {expected} was kept with it, so it was altered past "
        "the program. Restore it from a backup and look for who did it."
    )


def content_of(revision: Revision) -> Content:
    """Read what a revision says; raises RevisionAltered where it isn't what was kept, ContentFault for a bad one."""
    found = hash_of(revision.content)
    if found != revision.content_sha256:
        raise RevisionAltered(revision=str(revision), found=found, expected=revision.content_sha256)
    return _parsed(revision.content)


@lru_cache(maxsize=64)
def _parsed(content: str) -> Content:
    """Keep what was parsed: the bench asks for the same frozen text at every reading."""
    return parse(content)


def predecessor(revision: Revision) -> Revision | None:
    """Find the revision of the same procedure before this one, None for the first."""
    return (
        Revision.objects.filter(procedure_id=revision.procedure_id, number__lt=revision.number)
        .order_by("-number")
        .first()
    )


def draft_of(procedure: Procedure) -> Revision | None:
    """Find the draft of a procedure, None when there is none."""
    return procedure.revisions.filter(approved_at=None, retired_at=None).first()


def latest(procedure: Procedure) -> Revision | None:
    """Find the newest approved revision of a procedure, the one a draft usually starts from; None before the first."""
    return procedure.revisions.filter(approved_at__isnull=False).order_by("-number").first()


def numbered(procedure: Procedure, number: int) -> Revision | None:
    """Find a revision of a procedure by its number."""
    return procedure.revisions.filter(number=number).first()


def revisions() -> QuerySet[Revision]:
    """Find every revision with its procedure, family and signature, newest first."""
    return Revision.objects.select_related("procedure__family", "approval").order_by("procedure", "-number")


def procedures() -> QuerySet[Procedure]:
    """Find every procedure with family and revisions, newest first, without their content."""
    revisions = Revision.objects.defer("content", "comparison").order_by("-number")
    return Procedure.objects.select_related("family").prefetch_related(Prefetch("revisions", revisions))


def state_words(revision: Revision, at: datetime) -> str:
    """Say in a word how a revision stands at ``at``: draft, in force, retired, withdrawn draft."""
    if revision.approved_at is None or revision.approved_at > at:
        return "draft"
    if revision.retired_at is not None and revision.retired_at <= at:
        return "retired"
    return "in force"
