"""Giving out tags: one namespace for gauges and standards, a tag stays with one item for life."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.laboratory.models import Tag
from labsys.laboratory.queries import called


class TagTaken(LabError, ValueError):
    """A tag stays with one item for life."""

    code: ClassVar[str] = "tag-taken"
    sentence: ClassVar[str] = "The tag {text} is taken. A tag stays with one item for life; choose another."
    field: ClassVar[str | None] = "tag"


@act("laboratory.issue-tag")
def issue_tag(*, text: str, by: Acting, now: datetime) -> Tag:
    """Give out a tag with its opaque code; gauges and standards share one namespace."""
    cleaned = text.strip()
    if called(Tag.objects.all(), cleaned, "text").exists():
        raise TagTaken(text=cleaned)
    row = Tag(text=cleaned, created_at=now)
    row.full_clean()
    row.save()
    note(f"tag:{row.pk}", after={"text": cleaned})
    return row
