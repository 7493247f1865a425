"""The minute's sweep over certificates whose file is owed."""

from __future__ import annotations

from datetime import datetime

from celery import shared_task
from django.utils import timezone

from instruments.certificates.models import Certificate
from instruments.certificates.operations import render
from instruments.certificates.operations.issuing import RENDER, RENDER_TASK
from labsys.jobs.owed import work_off
from labsys.jobs.runs import recorded


@shared_task(name=RENDER_TASK, ignore_result=True)
def render_owed() -> None:
    """Render what is owed, oldest first."""
    with recorded("render-certificates", clock=timezone.now) as run:
        run.done, failed = sweep(timezone.now())
        run.total = run.done + failed
        run.detail = f"{failed} failed" if failed else ""


def sweep(now: datetime) -> tuple[int, int]:
    """Do the sweep at ``now``; gives how many were made and how many failed. What fails stays owed with its error."""
    return work_off(RENDER, _render, now=now)


def _render(subject: str, now: datetime) -> None:
    render(Certificate.objects.get(pk=int(subject.removeprefix("certificate:"))), now)
