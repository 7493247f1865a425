"""Acts on photos of the bench: what was seen is kept as it came, and stays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from instruments.inventory.pictures import Picture, put_away
from instruments.measuring.access import MEASURE
from instruments.measuring.models import Run, Session
from instruments.measuring.models.photos import Photo
from instruments.measuring.operations.gate import require_open
from instruments.procedures.queries import content_of
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require


class UnknownLook(LabError, ValueError):
    """A photo is of a look of the procedure, or of the gauge as a whole."""

    code: ClassVar[str] = "unknown-look"
    sentence: ClassVar[str] = (
        "The procedure has no look “{found}”. Load the page again and choose the look there."
    )
    field: ClassVar[str | None] = "look"


@dataclass(frozen=True)
class PhotoData:
    """What a photo shows: the code of the look, empty for the gauge as a whole, and a remark."""

    look: str = ""
    note: str = ""


@act("measuring.add-photos")
def add_photos(
    *, run: Run, pictures: Sequence[Picture], data: PhotoData, by: Person, now: datetime
) -> list[Photo]:
    """Keep photos with a run of an open session; the same picture at the same look is the same photo.

    Raises SessionNotOpen once it was handed in, since the record names its photos by their hashes; UnknownLook.
    """
    require(by, MEASURE)
    session = Session.objects.select_for_update(of=("self",)).get(pk=run.session_id)
    require_open(session)
    require_authorised(by, Activity.MEASURE, session.gauge.model.family, now)
    if data.look and data.look not in {look.code for look in content_of(session.revision).looks}:
        raise UnknownLook(found=data.look[:40], subject=f"session:{session.pk}")
    wanted = {picture.sha256: picture for picture in pictures}
    rows = {row.sha256: row for row in Photo.objects.filter(run=run, look=data.look, sha256__in=wanted)}
    said = {"look": data.look, "note": data.note.strip()[:200]}
    for sha256, picture in wanted.items():
        if sha256 not in rows:
            rows[sha256] = Photo.objects.create(run=run, **said, at=now, by=by, **put_away(picture))
    note(f"session:{session.pk}", after={"look": data.look, "photos": list(wanted)})
    return [rows[sha256] for sha256 in wanted]
