"""Handing in: nothing may be open; the record is frozen, hashed and journalled, the results computed and kept."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any, ClassVar

from django.db.models import Max

from instruments.inventory.models import CustodyEvent
from instruments.inventory.operations import record_custody
from instruments.measuring.access import MEASURE
from instruments.measuring.arriving import missing
from instruments.measuring.evaluation import Evaluated, evaluate_run
from instruments.measuring.models import Result, Run, Session, Submission
from instruments.measuring.open_items import open_items
from instruments.measuring.operations.gate import require_open
from instruments.measuring.record import record_of
from instruments.recall.operations import refresh_standing
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person
from labsys.errors import LabError
from labsys.journal.door import act, canonical, hash_of, note
from labsys.journal.roles import require
from labsys.metrology.error import from_picometres, to_picometres


class StillOpen(LabError):
    """A rule of the procedure is open, or something needed is missing."""

    code: ClassVar[str] = "still-open"
    sentence: ClassVar[str] = "The session can't be handed in yet. {open}"


class NotAllArrived(LabError):
    """The tablet has typed more than the laboratory has."""

    code: ClassVar[str] = "not-all-arrived"
    sentence: ClassVar[str] = (
        "{count} of what was typed on this tablet has not arrived yet. Keep the page open until it says that nothing "
        "waits, then hand in."
    )


@act("measuring.submit")
def submit(
    *, session: Session, by: Person, now: datetime, last_n: Mapping[str, int] | None = None
) -> Submission:
    """Hand a session in for review: results are computed from what was read and stored beside the frozen record.

    ``last_n`` says how many entries each device has typed in this session, where it keeps count; raises NotAllArrived
    while one of them is on its way, StillOpen while a rule is open.
    """
    require(by, MEASURE)
    session = Session.objects.select_for_update().get(pk=session.pk)
    require_open(session)
    require_authorised(by, Activity.MEASURE, session.gauge.model.family, now)
    if last_n and (count := sum(missing(session, last_n).get(device, 0) for device in last_n)):
        raise NotAllArrived(count=count)
    still = open_items(session)
    if still:
        raise StillOpen(open=" ".join(item.sentence for item in still), codes=[item.code for item in still])
    submission = _freeze(session, by, now)
    for run in session.runs.order_by("opened_at", "pk"):
        for evaluated in evaluate_run(run):
            _keep(submission, run, evaluated, now)
    session.state = Session.State.SUBMITTED
    session.save(update_fields=["state"])
    record_custody(
        gauge=session.gauge,
        kind=CustodyEvent.Kind.WAITING,
        waits_for=CustodyEvent.WaitsFor.REVIEWER,
        place=session.place,
        at=now,
        by=by,
        now=now,
    )
    refresh_standing(session.gauge, now)
    note(
        f"session:{session.pk}",
        after={
            "submission": submission.number,
            "record_sha256": submission.record_sha256,
            "state": "submitted",
            **({"last_n": dict(last_n)} if last_n else {}),
        },
    )
    return submission


def _freeze(session: Session, by: Person, now: datetime) -> Submission:
    record = record_of(session)
    last = session.submissions.aggregate(last=Max("number"))["last"] or 0
    return Submission.objects.create(
        session=session,
        number=last + 1,
        record=record,
        record_sha256=hash_of(record),
        submitted_at=now,
        submitted_by=by,
    )


def _keep(submission: Submission, run: Run, evaluated: Evaluated, now: datetime) -> Result:
    result = Result.objects.create(
        submission=submission,
        run=run,
        reading=evaluated.reading,
        kind=evaluated.kind,
        function=evaluated.function,
        name=evaluated.name,
        value_mm=evaluated.error_mm,
        **_uncertainty(evaluated),
        lower_mm=evaluated.limits.lower,
        upper_mm=evaluated.limits.upper,
        within_limits=evaluated.within_limits,
        verdict="" if evaluated.verdict is None else str(evaluated.verdict),
        decision=canonical(evaluated.decision_json()),
        evaluated_at=now,
    )
    result.points.add(*([evaluated.point] if evaluated.point is not None else evaluated.points))
    return result


def _uncertainty(evaluated: Evaluated) -> dict[str, Any]:
    """Give both expanded uncertainties with their budgets; none of what only fits or doesn't."""
    views = evaluated.views
    if views is None:
        return {"budget": ""}
    return {
        "U_mm": _picometres(views.calibration.U_mm),
        "U_test_mm": _picometres(views.test_value.U_mm),
        "k": Decimal(f"{views.calibration.k:.3f}"),
        "budget": canonical(views.to_json()),
    }


def _picometres(value_mm: float) -> Decimal:
    """Round a computed uncertainty to the column's picometre; the budget beside it keeps the full float."""
    return from_picometres(to_picometres(value_mm))
