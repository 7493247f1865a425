"""Tables of reminders: what was told about which gauge, and for which days the telling is done."""

from __future__ import annotations

from django.db import models

from instruments.inventory.models import Gauge


class Reminder(models.Model):
    """One thing told once about one gauge, and on which day's messages it went out (append-only).

    A due date is told at fixed distances (``stage``, in days after it; negative before); a call-in when it is made and
    when its day has passed. A new due date is a new thing.
    """

    class About(models.TextChoices):
        DUE = "due", "due"
        CALLED_IN = "called-in", "called in"
        NOT_PRESENTED = "not-presented", "called in and not brought"

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="reminders")
    about = models.CharField(max_length=14, choices=About.choices)
    on = models.DateField(help_text="the due day, or the day to bring it by")
    stage = models.SmallIntegerField(default=0)
    source = models.CharField(max_length=40, blank=True, help_text="call-in:17; empty for a due date")
    told_on = models.DateField(db_index=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("gauge", "about", "on", "stage", "source"), name="reminder_once"),
        )

    def __str__(self) -> str:
        return f"{self.gauge} {self.about} {self.on:%Y-%m-%d} {self.stage:+d}"


class ReminderDay(models.Model):
    """A day of the laboratory whose messages are planned: the next sweep of that day finds it and does nothing."""

    day = models.DateField(primary_key=True)
    planned_at = models.DateTimeField()
    reminders = models.PositiveIntegerField()
    notices = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"{self.day:%Y-%m-%d}"
