"""What became of an arrival, and which ones nobody has judged yet."""

from __future__ import annotations

from django.db.models import QuerySet

from instruments.measuring.models import Arrival, Session

OUTCOMES = ("reading", "strike_made", "zero_check", "check_made", "condition", "set_aside")
"""What an arrival can have become: the names of the rows that point at it."""


def unsettled(session: Session | None = None) -> QuerySet[Arrival]:
    """Find arrivals that are kept and became nothing yet, of one session or of all."""
    found = Arrival.objects.filter(**dict.fromkeys(OUTCOMES))
    return found if session is None else found.filter(session=session)
