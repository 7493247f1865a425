"""Acts on the journal itself: that somebody walked the chain, and what was found."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from labsys.errors import LabError
from labsys.journal.access import READ_JOURNAL
from labsys.journal.door import Acting, act, note
from labsys.journal.queries import VERIFY, ChainReport
from labsys.journal.roles import require


class ChainBroken(LabError):
    """The journal was changed past its door."""

    code: ClassVar[str] = "chain-broken"
    sentence: ClassVar[str] = (
        "The journal does not hold together. {fault} Keep the database as it is, and compare it with the last backup "
        "whose journal held."
    )


@act(VERIFY)
def record_verification(*, report: ChainReport, by: Acting, now: datetime) -> None:
    """Record that the whole chain was walked and what was found.

    The walk itself is a read and comes before: nothing so long may happen while the database is held for writing.
    """
    require(by, READ_JOURNAL)
    found = {"entries": report.entries, "head": report.head_hash, "fault": report.fault or ""}
    note("journal", after=found)
