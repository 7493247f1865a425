"""The clock's part in recall: standings follow the journal each minute, and are all derived anew once a day."""

from __future__ import annotations

from datetime import datetime, timedelta

from celery import shared_task
from django.utils import timezone

from instruments.recall.operations import follow_journal, refresh_all
from labsys.jobs.queries import last_success
from labsys.jobs.runs import recorded
from labsys.journal.models import JournalHead

FOLLOW, ALL = "follow-journal", "refresh-standings"
ONCE_IN = timedelta(hours=23)


@shared_task(name="instruments.follow-journal")
def follow() -> None:
    """Refresh the standings of gauges that something was done to since the last run."""
    last = last_success(FOLLOW)
    with recorded(FOLLOW, clock=timezone.now) as run:
        if last is None:
            head = JournalHead.objects.filter(id=1).values_list("sequence", flat=True).first() or 0
            run.total, run.done = refresh_all(timezone.now())
            position = head
        else:
            position, run.done = follow_journal(int(last.detail or 0), timezone.now())
        run.detail = str(position)


@shared_task(name="instruments.refresh-standings")
def refresh() -> None:
    """Derive all standings anew when that was last done a day ago; asked each hour, as a call may be lost."""
    if not _is_time(timezone.now()):
        return
    with recorded(ALL, clock=timezone.now) as run:
        run.total, run.done = refresh_all(timezone.now())
        run.detail = f"{run.done} were not right"


def _is_time(now: datetime) -> bool:
    last = last_success(ALL)
    return last is None or last.started_at <= now - ONCE_IN
