"""The act of recording that the arithmetic was held against its known answers."""

from __future__ import annotations

from datetime import datetime

from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.access import MANAGE_LABORATORY
from labsys.laboratory.queries import VALIDATE
from labsys.laboratory.validation import Validation


@act(VALIDATE)
def record_validation(*, found: Validation, by: Acting, now: datetime) -> None:
    """Record what a run of the known answers came to; the run itself is a read and comes before."""
    require(by, MANAGE_LABORATORY)
    note("laboratory", after=found.to_json())
