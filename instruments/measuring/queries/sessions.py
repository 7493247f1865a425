"""Reads of sessions: lists, the one under way on a gauge, what waits for a signature, the page of a gauge."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from instruments.inventory.models import Gauge
from instruments.measuring.models import Reading, Session, Submission

UNDER_WAY = (Session.State.OPEN, Session.State.SUBMITTED, Session.State.RETURNED)


def sessions() -> QuerySet[Session]:
    """Find sessions with what lists show of them, newest first."""
    return Session.objects.select_related(
        "gauge__tag", "gauge__model", "gauge__department", "opened_by", "revision"
    )


def under_way(gauge: Gauge) -> Session | None:
    """Find the session under way on a gauge."""
    return sessions().filter(gauge=gauge, state__in=UNDER_WAY).first()


def waiting_for_review() -> QuerySet[Submission]:
    """Find the newest submissions of submitted sessions, oldest first: what waits for a signature."""
    return (
        Submission.objects.filter(session__state=Session.State.SUBMITTED, review=None)
        .select_related("session__gauge__tag", "session__gauge__model__family", "submitted_by")
        .order_by("submitted_at")
    )


def performers(session: Session) -> set[int]:
    """Find everybody who opened, read in or handed in a session, by id: none of them reviews it."""
    return performers_of([session])[session.pk]


def performers_of(found: Iterable[Session]) -> dict[int, set[int]]:
    """Find the performers of several sessions, by session; two queries, whatever their number."""
    people = {session.pk: {session.opened_by_id} for session in found}
    readers = Reading.objects.filter(point__run__session__in=people).order_by()
    submitters = Submission.objects.filter(session__in=people).order_by()
    pairs = (
        *readers.values_list("point__run__session", "read_by").distinct(),
        *submitters.values_list("session", "submitted_by").distinct(),
    )
    for session_id, person_id in pairs:
        people[session_id].add(person_id)
    return people


def panel(gauge: Gauge, at: datetime) -> dict[str, Any]:
    """Give the sessions of a gauge opened by ``at``, for its page."""
    return {"sessions": sessions().filter(gauge=gauge, opened_at__lte=at)[:20], "under_way": under_way(gauge)}
