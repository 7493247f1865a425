"""What became of an arrival, which ones nobody has judged yet, and which of a device's are missing."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from django.db.models import Count, Max, QuerySet

from instruments.measuring.models import Arrival, Session

OUTCOMES = ("reading", "strike_made", "zero_check", "check_made", "condition", "set_aside")
"""What an arrival can have become: the names of the rows that point at it."""

HOLE_PATIENCE = timedelta(minutes=10)
"""How long an arrival waits for those typed before it on its device; then it is judged, and the hole stays open."""


def unsettled(session: Session | None = None) -> QuerySet[Arrival]:
    """Find arrivals that are kept and became nothing yet, of one session or of all."""
    found = Arrival.objects.filter(**dict.fromkeys(OUTCOMES))
    return found if session is None else found.filter(session=session)


def is_early(arrival: Arrival) -> bool:
    """Say whether something typed earlier on the same device in the same session has not arrived yet."""
    if arrival.n is None:
        return False
    before = Arrival.objects.filter(session=arrival.session_id, device=arrival.device, n__lt=arrival.n)
    return before.order_by().values("n").distinct().count() < arrival.n - 1


def missing(session: Session, last_n: Mapping[str, int] | None = None) -> dict[str, int]:
    """Count what devices typed in a session and the laboratory has not, by device; empty where nothing is missing.

    ``last_n`` says how many each device has typed; without it, the highest number that arrived counts.
    """
    rows = Arrival.objects.filter(session=session, n__isnull=False).order_by()
    arrived = {
        row["device"]: (row["kinds"], row["last"])
        for row in rows.values("device").annotate(kinds=Count("n", distinct=True), last=Max("n"))
    }
    found = {}
    for device in {*arrived, *(last_n or {})}:
        kinds, last = arrived.get(device, (0, 0))
        if gap := max(last, (last_n or {}).get(device, 0)) - kinds:
            found[device] = gap
    return found
