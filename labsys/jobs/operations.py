"""What a person decides about messages that may or may not have gone out."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from labsys.errors import LabError
from labsys.jobs.access import MANAGE_MESSAGES
from labsys.jobs.models import Notice
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require

OPEN = (Notice.State.DOUBTFUL, Notice.State.REFUSED)
"""States in which a person decides."""


class NothingToDecide(LabError):
    """The message is on its way or arrived."""

    code: ClassVar[str] = "nothing-to-decide"
    sentence: ClassVar[str] = (
        "The message “{title}” is {state}, not doubtful or refused, so it isn't sent again. Load the list anew."
    )


@act("jobs.resend")
def resend(*, notice: Notice, by: Acting, now: datetime) -> Notice:
    """Send a doubtful or refused message again, under the same Message-ID; raises NothingToDecide."""
    require(by, MANAGE_MESSAGES)
    row = _open(notice)
    before = row.state
    row.state, row.claimed_until, row.claimed_by = Notice.State.PLANNED, None, ""
    row.save(update_fields=["state", "claimed_until", "claimed_by"])
    note(
        f"notice:{row.pk}", before={"state": before}, after={"state": row.state, "message_id": row.message_id}
    )
    return row


@act("jobs.confirm-arrival")
def confirm_arrival(*, notice: Notice, reason: str, by: Acting, now: datetime) -> Notice:
    """Record that a doubtful message did arrive, so that it needn't be sent again; raises NothingToDecide."""
    require(by, MANAGE_MESSAGES)
    row = _open(notice)
    before = row.state
    row.state, row.sent_at = Notice.State.SENT, row.handing_over_at or now
    row.save(update_fields=["state", "sent_at"])
    note(f"notice:{row.pk}", reason=reason, before={"state": before}, after={"state": row.state})
    return row


def _open(notice: Notice) -> Notice:
    row = Notice.objects.select_for_update().get(pk=notice.pk)
    if row.state not in OPEN:
        raise NothingToDecide(title=row.title, state=row.get_state_display(), subject=f"notice:{row.pk}")
    return row
