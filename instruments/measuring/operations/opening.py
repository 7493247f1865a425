"""Opening a session on a gauge that is in the laboratory, and voiding one that came to nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from django.db import IntegrityError, transaction

from instruments.inventory.models import CustodyEvent, Gauge, GaugeState
from instruments.inventory.operations import record_custody
from instruments.inventory.queries import limits_for, received_at, state_of
from instruments.measuring.access import MEASURE
from instruments.measuring.basis import Basis, lines_of
from instruments.measuring.evaluation import try_rule
from instruments.measuring.models import Run, Session, Sitting
from instruments.measuring.operations.gate import require_open, require_reason
from instruments.measuring.operations.points import lay_out
from instruments.measuring.queries import UNDER_WAY
from instruments.procedures.models import Revision
from instruments.procedures.queries import revision_in_force
from instruments.recall.operations import refresh_standing
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require
from labsys.laboratory.models import Agreement, Place
from labsys.laboratory.queries import agreement_in_force


class NotReceived(LabError):
    """A gauge is measured after it was received."""

    code: ClassVar[str] = "not-received"
    sentence: ClassVar[str] = (
        "{gauge} is not in the laboratory: nobody recorded its receipt. Receive it with its condition first."
    )


class SessionUnderWay(LabError):
    """One gauge, one session under way."""

    code: ClassVar[str] = "session-under-way"
    sentence: ClassVar[str] = (
        "{gauge} already has session {session} under way ({state}). Go on with that one, or void it first."
    )


class NoProcedure(LabError):
    """Without an approved revision there is no way to measure."""

    code: ClassVar[str] = "no-procedure"
    sentence: ClassVar[str] = (
        "No approved procedure for the family {family} is in force. Have one approved first."
    )


class NothingAgreed(LabError):
    """Limits and rule must be agreed before the work (17025, 7.1.3)."""

    code: ClassVar[str] = "nothing-agreed"
    sentence: ClassVar[str] = (
        "{department} has agreed nothing for the family {family}: no rule, so no verdict could be given. "
        "Record the agreement first."
    )


class NoLimits(LabError):
    """A verdict needs limits."""

    code: ClassVar[str] = "no-limits"
    sentence: ClassVar[str] = (
        "{gauge} has no limits of error: neither the agreement nor its model nor the gauge itself states any. "
        "Record limits with their source first."
    )


class GaugeGone(LabError):
    """A lost or scrapped gauge can't be measured."""

    code: ClassVar[str] = "gauge-gone"
    sentence: ClassVar[str] = "{gauge} is recorded as {state}. Correct its service state first if it is here."


@act("measuring.open-session")
def open_session(
    *, gauge: Gauge, place: Place, by: Person, now: datetime, sitting: Sitting | None = None
) -> Session:
    """Open a session with its as-found run, the points proposed and their standards checked at this moment.

    ``sitting`` is the one it belongs to, where several gauges are measured in turn (``sit_down``).
    """
    require(by, MEASURE)
    require_authorised(by, Activity.MEASURE, gauge.model.family, now)
    ground = _ground(gauge, now)
    session = _create(gauge, ground, _Seat(place, sitting), by, now)
    run = Run.objects.create(session=session, stage=Run.Stage.AS_FOUND, opened_at=now)
    missing = lay_out(run, now)
    try_rule(run)
    record_custody(gauge=gauge, kind=CustodyEvent.Kind.ON_BENCH, place=place, at=now, by=by, now=now)
    refresh_standing(gauge, now)
    note(
        f"session:{session.pk}",
        after={
            "gauge": str(gauge),
            "revision": str(ground.revision),
            "sha256": ground.revision.content_sha256,
            "missing": missing,
        },
    )
    return session


@dataclass(frozen=True)
class _Ground:
    """What a session stands on when it opens."""

    revision: Revision
    agreement: Agreement
    basis: Basis


@dataclass(frozen=True)
class _Seat:
    """Where a gauge is measured, and in which sitting."""

    place: Place
    sitting: Sitting | None


def _ground(gauge: Gauge, now: datetime) -> _Ground:
    family = gauge.model.family
    state = state_of(gauge, now)
    if state in (GaugeState.State.LOST, GaugeState.State.SCRAPPED):
        raise GaugeGone(gauge=str(gauge), state=GaugeState.State(state).label)
    revision = revision_in_force(family, now)
    if revision is None:
        raise NoProcedure(family=family.name.lower())
    agreement = agreement_in_force(gauge.department, family, now)
    if agreement is None:
        raise NothingAgreed(department=gauge.department.name, family=family.name.lower())
    return _Ground(revision, agreement, _basis(gauge, revision, agreement, now))


def _basis(gauge: Gauge, revision: Revision, agreement: Agreement, now: datetime) -> Basis:
    if agreement.limit_rows:
        rows, source, confirmed = agreement.limit_rows, agreement.limits_source, agreement.limits_confirmed
    else:
        own = limits_for(gauge, now)
        if own is None:
            raise NoLimits(gauge=str(gauge))
        rows, source, confirmed = list(own.rows), own.source, own.confirmed
    return Basis(
        lines=lines_of(rows),
        limits_source=source,
        limits_confirmed=confirmed,
        rule=agreement.rule,
        agreed_by=agreement.agreed_by,
        adjustment_allowed=agreement.adjustment_allowed,
        due_date_printed=agreement.due_date_printed,
        revision_sha256=revision.content_sha256,
    )


def _create(gauge: Gauge, ground: _Ground, seat: _Seat, by: Person, now: datetime) -> Session:
    arrived = received_at(gauge)
    if arrived is None or arrived > now:
        raise NotReceived(gauge=str(gauge))
    _refuse_second(gauge)
    try:
        with transaction.atomic():
            return Session.objects.create(
                gauge=gauge,
                revision=ground.revision,
                agreement=ground.agreement,
                basis=ground.basis.dump(),
                opened_at=now,
                opened_by=by,
                received_at=arrived,
                place=seat.place,
                sitting=seat.sitting,
            )
    except IntegrityError:
        _refuse_second(gauge)  # Somebody was faster by a moment: say which session it is.
        raise


def _refuse_second(gauge: Gauge) -> None:
    other = Session.objects.filter(gauge=gauge, state__in=UNDER_WAY).first()
    if other is not None:
        raise SessionUnderWay(gauge=str(gauge), session=other.pk, state=other.get_state_display())


@act("measuring.void-session")
def void_session(*, session: Session, reason: str, by: Person, now: datetime) -> Session:
    """Void a session that came to nothing; everything read in it stays readable. Not one that was approved."""
    require(by, MEASURE)
    require_reason(reason, "voiding a session")
    session = Session.objects.select_for_update().get(pk=session.pk)
    if session.state in (Session.State.APPROVED, Session.State.VOID):
        require_open(session)
    before = session.state
    session.state, session.void_reason, session.closed_at = Session.State.VOID, reason, now
    session.save(update_fields=["state", "void_reason", "closed_at"])
    refresh_standing(session.gauge, now)
    note(f"session:{session.pk}", reason=reason, before={"state": before}, after={"state": "void"})
    return session
