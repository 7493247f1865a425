"""What a change wants before it is journalled: a reason, and something that really changes."""

from __future__ import annotations

from typing import Any, ClassVar

from labsys.errors import LabError


class ReasonMissing(LabError, ValueError):
    """A change came without its reason."""

    code: ClassVar[str] = "reason-missing"
    sentence: ClassVar[str] = (
        "{what} needs a reason, so that somebody who reads it in two years understands it. Give one."
    )
    field: ClassVar[str | None] = "reason"


class NothingChanged(LabError, ValueError):
    """A change that changes nothing would only fill the journal."""

    code: ClassVar[str] = "nothing-changed"
    sentence: ClassVar[str] = "Nothing of {what} was changed, so nothing was stored."


def given(reason: str, *, what: str, subject: str) -> str:
    """Give the reason without spaces around it; raises ReasonMissing when nothing is left."""
    cleaned = reason.strip()
    if not cleaned:
        raise ReasonMissing(what=what, subject=subject)
    return cleaned


def changed(
    before: dict[str, Any], after: dict[str, Any], *, what: str, subject: str
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Reduce two descriptions to the fields in which they differ; raises NothingChanged where there is none."""
    names = [name for name in after if before.get(name) != after[name]]
    if not names:
        raise NothingChanged(what=what, subject=subject)
    return {name: before.get(name) for name in names}, {name: after[name] for name in names}
