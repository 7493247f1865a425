"""Tables of the room's log: what was brought, as it came, and the readings in it. Append-only."""

from __future__ import annotations

from django.db import models

from labsys.accounts.models import Person
from standards.register.models import Standard


class LogUpload(models.Model):
    """A piece of a thermometer's log exactly as it came: a file, or what a program sent (append-only).

    ``faults`` lists the first lines that could not be read, as pairs of line and sentence; ``fault_count`` says how
    many there were.
    """

    class Source(models.TextChoices):
        FILE = "file", "a file"
        PROGRAM = "program", "a program"

    sensor = models.ForeignKey(Standard, models.PROTECT, related_name="log_uploads")
    source = models.CharField(max_length=8, choices=Source.choices)
    name = models.CharField(max_length=200, blank=True)
    sha256 = models.CharField(max_length=64)
    content = models.TextField()
    new_count = models.PositiveIntegerField()
    known_count = models.PositiveIntegerField()
    fault_count = models.PositiveIntegerField()
    faults = models.JSONField(default=list)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("-at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("sensor", "sha256"),
                name="log_upload_once",
                violation_error_message="This piece of the log is on record already.",
            ),
        )

    def __str__(self) -> str:
        return f"log of {self.sensor.tag}, {self.get_source_display()} {self.name}".rstrip()


class LogReading(models.Model):
    """What a thermometer showed at an instant: °C to a thousandth, relative humidity to a tenth (append-only)."""

    sensor = models.ForeignKey(Standard, models.PROTECT, related_name="log_readings")
    upload = models.ForeignKey(LogUpload, models.PROTECT, related_name="readings")
    at = models.DateTimeField()
    temperature_c = models.DecimalField(max_digits=6, decimal_places=3)
    humidity_percent = models.DecimalField(max_digits=4, decimal_places=1, null=True)

    class Meta:
        ordering = ("sensor", "at")
        constraints = (models.UniqueConstraint(fields=("sensor", "at"), name="log_reading_once"),)

    def __str__(self) -> str:
        return f"{self.temperature_c} °C"
