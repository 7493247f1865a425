"""The act of trying a cable: what came is kept, so that a day's readings by cable can be trusted."""

from __future__ import annotations

from datetime import datetime

from instruments.measuring.access import MEASURE
from instruments.measuring.cable import Sent, works
from instruments.measuring.models.cables import CableCheck
from labsys.accounts.models import Person
from labsys.journal.door import act, note
from labsys.journal.roles import require

LONGEST_SENT = 100


@act("measuring.check-cable")
def check_cable(*, device: str, sent: Sent, by: Person, now: datetime) -> CableCheck:
    """Keep what a cable sent to a device when it was tried."""
    require(by, MEASURE)
    row = CableCheck.objects.create(
        device=device[:64],
        sent=sent.text[:LONGEST_SENT],
        ended=sent.ended if sent.ended in CableCheck.Ended.values else CableCheck.Ended.UNSEEN,
        is_good=works(sent),
        at=now,
        by=by,
    )
    note(f"person:{by.pk}", after={"cable": row.sent, "ended": row.ended, "good": row.is_good})
    return row
