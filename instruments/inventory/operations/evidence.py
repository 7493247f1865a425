"""The act of keeping photos with a step of a gauge's way: the condition it came in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from instruments.inventory.access import RECORD_CUSTODY
from instruments.inventory.models import CustodyEvent
from instruments.inventory.models.photos import CustodyPhoto
from instruments.inventory.pictures import Picture, put_away
from labsys.accounts.models import Person
from labsys.journal.access import READ_RECORDS
from labsys.journal.door import act, note
from labsys.journal.roles import require


@act("inventory.add-custody-photos")
def add_custody_photos(
    *, event: CustodyEvent, pictures: Sequence[Picture], by: Person, now: datetime
) -> list[CustodyPhoto]:
    """Keep photos as they came with a step; the same picture at the same step is the same photo."""
    require(by, RECORD_CUSTODY)
    require(by, READ_RECORDS)
    CustodyEvent.objects.select_for_update().get(pk=event.pk)
    wanted = {picture.sha256: picture for picture in pictures}
    rows = {row.sha256: row for row in CustodyPhoto.objects.filter(event=event, sha256__in=wanted)}
    for sha256, picture in wanted.items():
        if sha256 not in rows:
            rows[sha256] = CustodyPhoto.objects.create(event=event, at=now, by=by, **put_away(picture))
    note(f"gauge:{event.gauge_id}", after={"custody": event.kind, "photos": list(wanted)})
    return [rows[sha256] for sha256 in wanted]
