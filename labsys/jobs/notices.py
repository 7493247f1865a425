"""The ledger of messages: planned, claimed, handed over, sent. Above the sender stands what happens when it dies.

A unique key makes "once" true, a conditional update makes "mine" true. A sender that dies with a claim loses it when
the lease ends, and another takes the message. One that dies between the hand-over and the record leaves a message
that perhaps went out: it becomes doubtful, is listed, and is never sent again by itself. The Message-ID is made from
the key, so that a message sent again on somebody's word is the same message to the mail program that gets it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.core.validators import validate_email
from django.db.models import F, Q, QuerySet

from labsys.jobs.models import Notice

LEASE = timedelta(minutes=5)
"""How long a claim holds, and after which a hand-over without an end is doubtful: far longer than a server may take."""

FIRST_PAUSE, LONGEST_PAUSE = timedelta(minutes=2), timedelta(hours=6)
"""Between tries that surely sent nothing: doubled each time, up to the longest."""

State = Notice.State
_CONTROL = re.compile(r"[\x00-\x1f\x7f\u0085\u2028\u2029]+")


@dataclass(frozen=True)
class Draft:
    """A message as planned. ``recipient``, ``kind``, ``subject`` and ``period`` together are sent once.

    ``recipient`` says who (``person:7``), ``subject`` what it is about (``digest``), ``period`` when (``2026-11-25``).
    """

    recipient: str
    address: str
    kind: str
    subject: str
    period: str
    title: str
    body: str


def header(text: str) -> str:
    """Reduce a text to one line that can stand in a mail's header: what breaks lines becomes a space."""
    return _CONTROL.sub(" ", text).strip()[:200]


def message_id(draft: Draft) -> str:
    """Make the Message-ID from the key: the same message always has the same one."""
    key = "\x1f".join((draft.recipient, draft.kind, draft.subject, draft.period))
    host = urlsplit(settings.SITE_URL).hostname or "localhost"
    return f"<{hashlib.sha256(key.encode()).hexdigest()[:40]}@{host}>"


def plan(drafts: Iterable[Draft], now: datetime) -> int:
    """Put messages into the ledger; those planned before stay as they are. Gives how many are new.

    Raises ValidationError for an address that is none.
    """
    rows = [_row(draft, now) for draft in drafts]
    ids = [row.message_id for row in rows]
    before = Notice.objects.filter(message_id__in=ids).count()
    Notice.objects.bulk_create(rows, ignore_conflicts=True, batch_size=500)
    return Notice.objects.filter(message_id__in=ids).count() - before


def _row(draft: Draft, now: datetime) -> Notice:
    validate_email(draft.address)
    return Notice(
        recipient=draft.recipient,
        address=draft.address,
        kind=draft.kind,
        subject=draft.subject,
        period=draft.period,
        title=header(draft.title),
        body=draft.body.replace("\x00", ""),
        message_id=message_id(draft),
        planned_at=now,
    )


def ready(now: datetime) -> QuerySet[Notice]:
    """Find what can be claimed at ``now``: planned and not paused, or claimed by somebody whose lease ran out."""
    free = Q(claimed_until=None) | Q(claimed_until__lte=now)
    return Notice.objects.filter(free, state__in=(State.PLANNED, State.CLAIMED)).order_by("planned_at", "pk")


def claim(now: datetime, sender: str) -> Notice | None:
    """Claim one message for ``sender`` until the lease ends; None when nothing is left to claim."""
    for pk in ready(now).values_list("pk", flat=True)[:20]:
        mine = (
            ready(now)
            .filter(pk=pk)
            .update(
                state=State.CLAIMED, claimed_until=now + LEASE, claimed_by=sender, attempts=F("attempts") + 1
            )
        )
        if mine:
            return Notice.objects.get(pk=pk)
    return None


def begin_hand_over(notice: Notice, now: datetime) -> bool:
    """Write that the message is being handed over; says False when the claim was lost meanwhile.

    Must be committed before the first byte goes to the mail server: from here on nobody else may send it.
    """
    mine = Notice.objects.filter(pk=notice.pk, state=State.CLAIMED, claimed_by=notice.claimed_by)
    return mine.update(state=State.HANDING_OVER, handing_over_at=now) == 1


def record_sent(notice: Notice, now: datetime) -> None:
    """Write that the mail server took the message; also where it was called doubtful meanwhile."""
    states = (State.HANDING_OVER, State.DOUBTFUL)
    mine = Notice.objects.filter(pk=notice.pk, state__in=states, claimed_by=notice.claimed_by)
    mine.update(state=State.SENT, sent_at=now, claimed_until=None, last_error="")


def put_back(notice: Notice, now: datetime, problem: str) -> None:
    """Write that surely nothing was sent; the message is tried again after a pause that grows."""
    pause = min(FIRST_PAUSE * 2 ** min(notice.attempts - 1, 10), LONGEST_PAUSE)
    _mine(notice).update(
        state=State.PLANNED, claimed_until=now + pause, handing_over_at=None, last_error=header(problem)
    )


def record_refused(notice: Notice, problem: str) -> None:
    """Write that the mail server won't ever take it; a person decides."""
    _mine(notice).update(state=State.REFUSED, claimed_until=None, last_error=header(problem))


def record_doubtful(notice: Notice, problem: str) -> None:
    """Write that the connection broke while handing over: perhaps sent, perhaps not."""
    _mine(notice).update(state=State.DOUBTFUL, claimed_until=None, last_error=header(problem))


def _mine(notice: Notice) -> QuerySet[Notice]:
    states = (State.CLAIMED, State.HANDING_OVER)
    return Notice.objects.filter(pk=notice.pk, state__in=states, claimed_by=notice.claimed_by)


def call_doubtful(now: datetime) -> int:
    """Find hand-overs whose sender hasn't come back within the lease and call them doubtful; gives how many."""
    lost = Notice.objects.filter(state=State.HANDING_OVER, handing_over_at__lte=now - LEASE)
    return lost.update(
        state=State.DOUBTFUL, claimed_until=None, last_error="The sender stopped while handing it over."
    )


Clock = Callable[[], datetime]
