"""Plans the messages of one day of the laboratory, all or nothing, once."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime
from typing import ClassVar

from instruments.reminders.audience import Audience, Recipient, newest
from instruments.reminders.models import Reminder, ReminderDay
from instruments.reminders.queries import Thing, not_told
from instruments.reminders.wording import body, title
from labsys.errors import LabError
from labsys.jobs import notices
from labsys.jobs.notices import Draft
from labsys.journal.door import Acting, act, note
from labsys.laboratory.queries import local_date, zone

FROM_HOUR = 6
"""Nobody is written to before this hour of the laboratory's day."""


class DayAlreadyPlanned(LabError):
    """The day's messages are planned."""

    code: ClassVar[str] = "day-already-planned"
    sentence: ClassVar[str] = "The messages of {day} are planned already. The next ones are planned tomorrow."


def is_open(now: datetime) -> bool:
    """Say whether the messages of the laboratory's day may be planned now and are not planned yet."""
    day = local_date(now)
    return now.astimezone(zone()).hour >= FROM_HOUR and not ReminderDay.objects.filter(pk=day).exists()


@act("reminders.plan-day")
def plan_day(*, by: Acting, now: datetime) -> ReminderDay:
    """Plan one message per person for the laboratory's day, of everything not told yet; raises DayAlreadyPlanned."""
    day = local_date(now)
    row, created = ReminderDay.objects.get_or_create(
        day=day, defaults={"planned_at": now, "reminders": 0, "notices": 0}
    )
    if not created:
        raise DayAlreadyPlanned(day=f"{day:%Y-%m-%d}", subject=f"day:{day:%Y-%m-%d}")
    audience = Audience(now)
    things = not_told(day)
    # What nobody can be told about stays untold, so that it is told once somebody has a mail address.
    told = [one for one in things if audience.of(one)]
    Reminder.objects.bulk_create((_told(one, day) for one in told), batch_size=500)
    row.reminders = len(told)
    row.notices = notices.plan(drafts(newest(told), day, audience), now)
    row.save(update_fields=["reminders", "notices"])
    untold = len(things) - len(told)
    note(f"day:{day:%Y-%m-%d}", after={"reminders": row.reminders, "notices": row.notices, "untold": untold})
    return row


def _told(thing: Thing, day: date) -> Reminder:
    return Reminder(
        gauge=thing.gauge,
        about=thing.about,
        on=thing.on,
        stage=thing.stage,
        source=thing.source,
        told_on=day,
    )


def drafts(things: list[Thing], day: date, audience: Audience) -> list[Draft]:
    """Sort things into one message per person."""
    mine: dict[Recipient, list[Thing]] = defaultdict(list)
    for thing in things:
        for recipient in audience.of(thing):
            mine[recipient].append(thing)
    alone = [thing for thing in things if audience.reaches_only_managers(thing)]
    return [
        Draft(
            recipient=recipient.key,
            address=recipient.address,
            kind="digest",
            subject="gauges",
            period=f"{day:%Y-%m-%d}",
            title=title(found, day),
            body=body([thing for thing in found if thing not in alone], day, unreached=_own(found, alone)),
        )
        for recipient, found in mine.items()
    ]


def _own(found: list[Thing], alone: list[Thing]) -> list[Thing]:
    return [thing for thing in alone if thing in found]
