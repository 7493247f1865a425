"""The table of sittings: several gauges of one kind measured in turn on set-ups that are shared."""

from __future__ import annotations

from django.db import models

from labsys.accounts.models import Person
from labsys.laboratory.models import Place


class Sitting(models.Model):
    """Somebody sat down with several gauges at once (append-only). Each has its own session, which names it."""

    opened_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    place = models.ForeignKey(Place, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("-opened_at",)

    def __str__(self) -> str:
        return f"sitting {self.pk}"
