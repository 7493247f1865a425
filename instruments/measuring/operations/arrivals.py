"""Readings arrive in two transactions: first the envelope is kept, by a step that can't refuse; then it is judged.

Whatever can't become what it says it is, is set aside with a sentence, and stays in sight until somebody answers for
it. Nothing here passes the journal: handing in journals the hash of the whole session, so the bench stays quick.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import ClassVar

from django.db import DataError, IntegrityError, transaction

from instruments.measuring.access import MEASURE
from instruments.measuring.arriving import HOLE_PATIENCE, OUTCOMES, is_early, unsettled
from instruments.measuring.envelope import Envelope
from instruments.measuring.models import Arrival, SetAside
from instruments.measuring.operations.gate import require_open, require_reason
from instruments.measuring.operations.settling import SETTLERS, Settled
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require

log = logging.getLogger(__name__)


class AlreadyResolved(LabError):
    """What was answered for stays so."""

    code: ClassVar[str] = "already-resolved"
    sentence: ClassVar[str] = "This was already answered for by {who}."


class UnknownKind(LabError, ValueError):
    """An envelope of a kind this program doesn't know."""

    code: ClassVar[str] = "unknown-kind"
    sentence: ClassVar[str] = "Nothing is known of the kind “{found}”. It is kept; tell the administrator."


class NotKeepable(LabError, ValueError):
    """An envelope whose content can't become what it says it is, for a reason that no check names."""

    code: ClassVar[str] = "not-keepable"
    sentence: ClassVar[str] = (
        "What the bench sent could not be taken over. It is kept as it came (arrival {arrival}); type it again, and "
        "tell the administrator, whose log says why."
    )


def deposit(*, envelope: Envelope, by: Person, now: datetime) -> Arrival:
    """Keep an envelope exactly as it came; the same id with the same content is the same arrival.

    Runs in a transaction of its own, so that what was acknowledged is on disk before anything judges it.
    """
    try:
        with transaction.atomic():
            return Arrival.objects.create(
                client_id=envelope.client_id,
                sha256=envelope.sha256,
                session_id=envelope.session_id,
                kind=envelope.kind,
                format=envelope.format,
                text=envelope.text,
                device=envelope.device,
                n=envelope.n,
                entered_at=envelope.entered_at,
                clock_off_s=envelope.clock_off_s,
                received_at=now,
                by=by,
            )
    except IntegrityError:
        return Arrival.objects.get(client_id=envelope.client_id, sha256=envelope.sha256)


def settle(*, arrival: Arrival, now: datetime) -> Settled | SetAside:
    """Make of an arrival what it says it is, or set it aside with the reason; settling twice is one outcome.

    The arrival is locked first, so that a double send that arrives twice at once waits and finds the outcome.
    """
    with transaction.atomic():
        Arrival.objects.select_for_update().only("pk").get(pk=arrival.pk)
        # Its outcomes are read after the lock was got, not with it: a server that waited for the lock would answer
        # with what stood beside the row before it waited.
        locked = Arrival.objects.select_related("by", *OUTCOMES).get(pk=arrival.pk)
        for name in OUTCOMES:
            done: Settled | SetAside | None = getattr(locked, name, None)
            if done is not None:
                return done
        try:
            with transaction.atomic():
                # By whoever sent it first: a second send, from whoever's hand, is the same observation.
                return _settled(locked, locked.by, now)
        except LabError as refusal:
            return SetAside.objects.create(arrival=locked, code=refusal.code, sentence=str(refusal), at=now)
        except (ValueError, ArithmeticError, DataError):
            # A value that no check foresaw must not stand in the way of all that comes after it.
            log.exception("arrival %s could not be settled", locked.pk)
            unforeseen = NotKeepable(arrival=locked.pk)
            return SetAside.objects.create(
                arrival=locked, code=unforeseen.code, sentence=str(unforeseen), at=now
            )


def _settled(arrival: Arrival, by: Person, now: datetime) -> Settled:
    settler = SETTLERS.get(arrival.kind)
    if settler is None:
        raise UnknownKind(found=arrival.kind)
    settled: Settled = settler(arrival, by, now)
    return settled


def settle_leftovers(*, now: datetime) -> int:
    """Settle what was kept and never judged, because the process died in between; gives how many.

    Only arrivals older than a minute: a younger one is in somebody's hands. One that came before others typed
    earlier on its device waits for them longer, but not for ever.
    """
    waiting = (
        unsettled()
        .filter(received_at__lt=now - timedelta(minutes=1))
        .order_by("session", "device", "n", "pk")
    )
    ripe = [one for one in waiting[:500] if one.received_at < now - HOLE_PATIENCE or not is_early(one)]
    for arrival in ripe:
        settle(arrival=arrival, now=now)
    return len(ripe)


def deposit_all(*, envelopes: Sequence[Envelope], by: Person, now: datetime) -> list[Arrival]:
    """Keep several envelopes, then judge them and what waited for them, each device's in the order of typing.

    One that came before others typed earlier on its device is kept and judged when those are here.
    """
    kept = [deposit(envelope=envelope, by=by, now=now) for envelope in envelopes]
    for arrival in kept:
        if arrival.n is None:
            settle(arrival=arrival, now=now)
    for session_id, device in sorted({(one.session_id, one.device) for one in kept if one.n is not None}):
        for waiting in (
            unsettled().filter(session=session_id, device=device, n__isnull=False).order_by("n", "pk")
        ):
            if is_early(waiting):
                break
            settle(arrival=waiting, now=now)
    return kept


def take(*, envelope: Envelope, by: Person, now: datetime) -> Settled | SetAside:
    """Keep an envelope, then judge it: both transactions, one after the other."""
    return settle(arrival=deposit(envelope=envelope, by=by, now=now), now=now)


@act("measuring.resolve-set-aside")
def resolve_set_aside(*, set_aside: SetAside, resolution: str, by: Person, now: datetime) -> SetAside:
    """Answer for something that was set aside: say what was done about it (typed again, not a reading …)."""
    require(by, MEASURE)
    session = set_aside.arrival.session
    require_open(session)
    require_reason(resolution, "answering for something set aside")
    if set_aside.resolved_at is not None:
        raise AlreadyResolved(who=set_aside.resolved_by)
    set_aside.resolved_at, set_aside.resolved_by, set_aside.resolution = now, by.name, resolution
    set_aside.save(update_fields=["resolved_at", "resolved_by", "resolution"])
    note(
        f"session:{session.pk}", reason=resolution, after={"set_aside": set_aside.pk, "code": set_aside.code}
    )
    return set_aside
