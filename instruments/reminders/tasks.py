"""The clock's part in reminders: once a day, as soon as the day may begin, whatever hours the machine was off."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from instruments.reminders.operations import is_open, plan_day
from labsys.jobs.runs import recorded
from labsys.journal.door import Actor

REMINDERS = Actor("job:reminders", "reminders", "job")


@shared_task(name="instruments.plan-reminders")
def plan_reminders() -> None:
    """Plan the day's messages unless that is done; asked several times an hour, as a call may be lost."""
    now = timezone.now()
    if not is_open(now):
        return
    with recorded("plan-reminders", clock=timezone.now) as run:
        day = plan_day(by=REMINDERS, now=now)
        run.done = day.reminders
        run.detail = f"{day.notices} messages"
