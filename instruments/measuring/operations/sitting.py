"""Sitting down with several gauges of one kind: a session for each, opened as any other is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from django.db import transaction

from instruments.inventory.models import Gauge
from instruments.measuring.access import MEASURE
from instruments.measuring.models import Session, Sitting
from instruments.measuring.operations.opening import open_session
from instruments.procedures.models import Revision
from instruments.procedures.queries import revisions_in_force
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require
from labsys.laboratory.models import Place

MOST = 24
"""Gauges in one sitting: more than lie on a bench beside the standards."""


class NotSeveral(LabError, ValueError):
    """A sitting is for several gauges, and for no more than a bench holds."""

    code: ClassVar[str] = "not-several"
    sentence: ClassVar[str] = (
        "Expected 2 to {most} gauges for one sitting, found {found}. For one gauge open its session; of more, leave "
        "some for the next sitting."
    )
    field: ClassVar[str | None] = "gauges"


class OddOneOut(LabError, ValueError):
    """The gauges of a sitting are measured by one procedure."""

    code: ClassVar[str] = "odd-one-out"
    sentence: ClassVar[str] = (
        "The gauges of a sitting share their set-ups, so one procedure has to hold for all of them: {odd}. Take out "
        "what doesn't belong, and sit down with it by itself."
    )
    field: ClassVar[str | None] = "gauges"


class NobodySat(LabError):
    """No session could be opened, so there is no sitting either."""

    code: ClassVar[str] = "nobody-sat"
    sentence: ClassVar[str] = "No session could be opened. {refusals}"


@dataclass(frozen=True)
class SatDown:
    """What came of it: the sitting, its sessions in the order of the gauges, and why the others have none."""

    sitting: Sitting
    sessions: tuple[Session, ...]
    refusals: tuple[str, ...]


@act("measuring.sit-down")
def sit_down(*, gauges: Sequence[Gauge], place: Place, by: Person, now: datetime) -> SatDown:
    """Open a session for each of several gauges of one procedure; one that is refused doesn't keep the others.

    Raises NotSeveral, OddOneOut, and NobodySat where every single one was refused.
    """
    require(by, MEASURE)
    chosen = list({gauge.pk: gauge for gauge in gauges}.values())
    if not 2 <= len(chosen) <= MOST:
        raise NotSeveral(most=MOST, found=len(chosen))
    _refuse_odd(chosen, now)
    require_authorised(by, Activity.MEASURE, chosen[0].model.family, now)
    sitting = Sitting.objects.create(opened_at=now, by=by, place=place)
    sessions, refusals = list[Session](), list[str]()
    for gauge in chosen:
        try:
            # Each by itself: what a refused one had begun to write is taken back, and nothing else.
            with transaction.atomic():
                sessions.append(open_session(gauge=gauge, place=place, sitting=sitting, by=by, now=now))
        except LabError as refusal:
            refusals.append(str(refusal))
    if not sessions:
        raise NobodySat(refusals=" ".join(refusals))
    after = {"sessions": [session.pk for session in sessions], "place": place.name, "refused": refusals}
    note(f"sitting:{sitting.pk}", after=after)
    return SatDown(sitting, tuple(sessions), tuple(refusals))


def _refuse_odd(chosen: Sequence[Gauge], now: datetime) -> None:
    """Refuse gauges of several procedures, and name those that the fewest share."""
    revisions = revisions_in_force({gauge.model.family for gauge in chosen}, now)
    of = {gauge.pk: revisions.get(gauge.model.family_id) for gauge in chosen}
    if len({_key(revision) for revision in of.values()}) == 1:
        return
    most, _count = Counter(_key(revision) for revision in of.values()).most_common(1)[0]
    odd = [
        f"{gauge} is a {gauge.model.family.name.lower()}, measured by {of[gauge.pk] or 'no procedure in force'}"
        for gauge in chosen
        if _key(of[gauge.pk]) != most
    ]
    shared = next((str(revision) for revision in of.values() if _key(revision) == most), "")
    others = f"the others by {shared}" if most is not None else "for the others none is in force"
    raise OddOneOut(odd=f"{', '.join(odd)}, {others}")


def _key(revision: Revision | None) -> int | None:
    return None if revision is None else revision.pk
