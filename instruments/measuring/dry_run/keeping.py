"""Keeping what a trial on past sessions found, if it is still what was seen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from instruments.measuring.dry_run.record import Tried
from instruments.measuring.dry_run.trying import try_on_past
from instruments.procedures.models import ProcedureValidation, Revision
from instruments.procedures.validating import Counts, keep_validation
from labsys.accounts.models import Person
from labsys.errors import LabError


class OutcomeMovedOn(LabError, ValueError):
    """What would be kept isn't what was looked at."""

    code: ClassVar[str] = "outcome-moved-on"
    sentence: ClassVar[str] = (
        "Since you looked at it, the draft was changed or another session was handed in, so that {revision} comes out "
        "otherwise now. Try it again, look at the outcome, and keep that one."
    )


@dataclass(frozen=True)
class Asked:
    """What was tried: how many of the newest sessions, by whose rule."""

    at_most: int
    own_rule: bool


def keep_outcome(
    *, revision: Revision, asked: Asked, seen_sha256: str, by: Person, now: datetime
) -> ProcedureValidation:
    """Try a draft once more and keep what was found; raises OutcomeMovedOn where that isn't what was seen.

    Raises also what ``keep_validation`` raises.
    """
    tried = try_on_past(revision, asked.at_most, own_rule=asked.own_rule)
    if tried.sha256 != seen_sha256:
        raise OutcomeMovedOn(revision=str(revision), subject=f"revision:{revision.pk}")
    return keep_validation(
        revision=revision, rule=tried.rule, counts=counts_of(tried), record=tried.dump(), by=by, now=now
    )


def counts_of(tried: Tried) -> Counts:
    """Give what stands at the head of an outcome."""
    return Counts(
        session_count=len(tried.sessions),
        result_count=tried.result_count,
        changed_count=tried.changed_count,
        unjudged_count=tried.refused_count + tried.unjudged_count,
    )
