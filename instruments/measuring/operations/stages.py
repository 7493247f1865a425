"""Between the stages: what was found is complete before anything is adjusted, and what was done is recorded."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from instruments.measuring.access import MEASURE
from instruments.measuring.basis import Basis
from instruments.measuring.models import Adjustment, Run, Session
from instruments.measuring.open_items import open_items
from instruments.measuring.operations.gate import require_open
from instruments.measuring.operations.points import lay_out
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require


class AdjustmentNotAgreed(LabError, PermissionError):
    """The owner said no to adjusting."""

    code: ClassVar[str] = "adjustment-not-agreed"
    sentence: ClassVar[str] = (
        "The agreement with {agreed_by} does not allow adjustment. Hand in as found, or have the agreement changed."
    )


class AsFoundIncomplete(LabError):
    """Adjusting now would destroy what was found."""

    code: ClassVar[str] = "as-found-incomplete"
    sentence: ClassVar[str] = (
        "As found is not complete, and adjusting would make it impossible to complete. Still open: {open}"
    )


class AdjustmentUnsaid(LabError, ValueError):
    """An adjustment says what was done."""

    code: ClassVar[str] = "adjustment-unsaid"
    sentence: ClassVar[str] = "Say what was adjusted, repaired or replaced."
    field: ClassVar[str | None] = "what"


@dataclass(frozen=True)
class AdjustmentData:
    """What was done to the gauge: in words, parts replaced, seal, firmware."""

    what: str
    parts: str = ""
    seal: str = ""
    firmware: str = ""


@act("measuring.begin-as-left")
def begin_as_left(*, session: Session, adjustment: AdjustmentData, by: Person, now: datetime) -> Run:
    """Record an adjustment and open the as-left run with its own points, standards and conditions."""
    require(by, MEASURE)
    session = Session.objects.select_for_update().get(pk=session.pk)
    require_open(session)
    require_authorised(by, Activity.MEASURE, session.gauge.model.family, now)
    basis = Basis.load(session.basis)
    if not basis.adjustment_allowed:
        raise AdjustmentNotAgreed(agreed_by=basis.agreed_by)
    if not adjustment.what.strip():
        raise AdjustmentUnsaid()
    last = session.runs.order_by("opened_at", "pk").last()
    assert last is not None, "a session is opened with its first run"
    _require_complete(session, last)
    Adjustment.objects.create(session=session, after_run=last, by=by, at=now, **vars(adjustment))
    attempt = session.runs.filter(stage=Run.Stage.AS_LEFT).count() + 1
    run = Run.objects.create(session=session, stage=Run.Stage.AS_LEFT, attempt=attempt, opened_at=now)
    lay_out(run, now)
    note(f"session:{session.pk}", reason=adjustment.what, after={"run": run.pk, **vars(adjustment)})
    return run


def _require_complete(session: Session, run: Run) -> None:
    still = [item for item in open_items(session) if item.run_id in (run.pk, None)]
    if still:
        raise AsFoundIncomplete(open=" ".join(item.sentence for item in still))
