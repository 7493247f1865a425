"""Tables of the room besides what was noted: how long the gauge lay in it, and what its log said. Append-only."""

from __future__ import annotations

from django.db import models

from instruments.measuring.models.observations import Condition
from instruments.measuring.models.sessions import Session
from labsys.accounts.models import Person


class SoakNote(models.Model):
    """What was said about the time in which the gauge takes the room's temperature (append-only).

    ``laid``: it lies beside the standards since ``since``. ``early``: work goes on before the time is up, with the
    reason. The last of each kind counts.
    """

    class Kind(models.TextChoices):
        LAID = "laid", "laid beside the standards"
        EARLY = "early", "going on before the time is up"

    session = models.ForeignKey(Session, models.PROTECT, related_name="soak_notes")
    kind = models.CharField(max_length=5, choices=Kind.choices)
    since = models.DateTimeField()
    reason = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("session", "at", "pk")
        constraints = (
            models.CheckConstraint(
                condition=~models.Q(kind="early") | ~models.Q(reason=""),
                name="soak_note_early_has_reason",
                violation_error_message="Going on before the time is up needs the reason.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.session}: {self.get_kind_display()}"


class ConditionSpan(models.Model):
    """The stretch of a thermometer's log that a noted condition is the mean of (append-only).

    °C to a thousandth, relative humidity in percent to a tenth, ``gap_count`` stretches in which nothing was logged.
    """

    condition = models.OneToOneField(Condition, models.PROTECT, related_name="span")
    start = models.DateTimeField()
    end = models.DateTimeField()
    reading_count = models.PositiveIntegerField()
    temperature_low_c = models.DecimalField(max_digits=6, decimal_places=3)
    temperature_high_c = models.DecimalField(max_digits=6, decimal_places=3)
    humidity_low_percent = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    humidity_high_percent = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    gap_count = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.temperature_low_c} to {self.temperature_high_c} °C"
