"""The minute's sweep over what was kept at the bench and not judged, because a process died in between."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from instruments.measuring.operations import settle_leftovers
from labsys.jobs.runs import recorded


@shared_task(name="measuring.settle-leftovers", ignore_result=True)
def settle() -> None:
    """Judge what waits."""
    with recorded("settle-leftovers", clock=timezone.now) as run:
        run.done = settle_leftovers(now=timezone.now())
