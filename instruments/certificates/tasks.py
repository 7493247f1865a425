"""The minute's sweep over certificates whose file is owed."""

from __future__ import annotations

from datetime import datetime

from celery import shared_task
from django.utils import timezone

from instruments.certificates.models import Certificate
from instruments.certificates.operations import render
from instruments.certificates.operations.issuing import RENDER, RENDER_TASK, wake_renderer
from labsys.jobs.owed import work_off
from labsys.jobs.runs import recorded

# One worker does everything: after so many files, half a second each, the other sweeps get their turn.
AT_ONCE = 8


@shared_task(name=RENDER_TASK, ignore_result=True)
def render_owed() -> None:
    """Render what is owed, oldest first; what is left over is asked for anew."""
    with recorded("render-certificates", clock=timezone.now) as run:
        run.done, failed = sweep(timezone.now())
        run.total = run.done + failed
        run.detail = f"{failed} failed" if failed else ""
    if run.total == AT_ONCE:
        wake_renderer()


def sweep(now: datetime) -> tuple[int, int]:
    """Do the sweep at ``now``; gives how many were made and how many failed.

    What fails stays owed with its error, and claimed for a while, so it stands in nobody's way.
    """
    return work_off(RENDER, _render, now=now, most=AT_ONCE)


def _render(subject: str, now: datetime) -> None:
    render(Certificate.objects.get(pk=int(subject.removeprefix("certificate:"))), now)
