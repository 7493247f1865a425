"""Trials of the cable with which gauges send. Append-only."""

from __future__ import annotations

from django.db import models

from labsys.accounts.models import Person


class CableCheck(models.Model):
    """What a cable sent to a device when it was tried, as it came, and how it ended (append-only)."""

    class Ended(models.TextChoices):
        ENTER = "enter", "Enter"
        TAB = "tab", "Tab"
        NOTHING = "nothing", "nothing"
        UNSEEN = "unseen", "not seen"

    device = models.CharField(max_length=64, blank=True)
    sent = models.CharField(max_length=100, blank=True)
    ended = models.CharField(max_length=7, choices=Ended.choices)
    is_good = models.BooleanField()
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("-at", "-pk")

    def __str__(self) -> str:
        return f"cable: “{self.sent}”"
