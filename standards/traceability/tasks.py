"""What traceability does by the clock: sweeping away files that came with forms nobody finished."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from labsys.jobs.runs import recorded
from standards.traceability import pending


@shared_task(name="traceability.sweep-pending")
def sweep_pending() -> int:
    """Drop files kept for unfinished forms longer than a day; gives how many."""
    with recorded("sweep-pending", clock=timezone.now) as run:
        run.done = pending.sweep(timezone.now())
    return run.done
