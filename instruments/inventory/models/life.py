"""Tables of a gauge's life: its service states and its way through the laboratory. Append-only."""

from __future__ import annotations

from django.db import models

from instruments.inventory.models.gauges import Gauge
from labsys.accounts.models import Person
from labsys.journal.rows import DatedRow
from labsys.laboratory.models import Place


class GaugeState(DatedRow):
    """The service state of a gauge from an instant on."""

    class State(models.TextChoices):
        NEW = "new", "new and not accepted"
        IN_SERVICE = "in-service", "in service"
        STORED = "stored", "stored"
        AWAY = "away", "at outside laboratory"
        ON_LOAN = "on-loan", "on loan"
        OUT_OF_SERVICE = "out-of-service", "out of service"
        LOST = "lost", "lost"
        SCRAPPED = "scrapped", "scrapped"

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="states")
    state = models.CharField(max_length=16, choices=State.choices)

    class Meta:
        indexes = (
            models.Index(fields=("gauge", "-valid_from"), name="gauge_state_last"),
            models.Index(fields=("state", "gauge"), name="gauge_state_by_state"),
        )

    def __str__(self) -> str:
        return f"{self.gauge}: {self.get_state_display()}"


class CustodyEvent(models.Model):
    """A step of a gauge's way through the laboratory (append-only); the last one says where it is."""

    class Kind(models.TextChoices):
        CALLED_IN = "called-in", "called in"
        RECEIVED = "received", "received"
        CLEANED = "cleaned", "cleaned"
        SOAKING = "soaking", "soaking"
        ON_BENCH = "on-bench", "on the bench"
        WAITING = "waiting", "waiting"
        RELEASED = "released", "released"
        HANDED_OVER = "handed-over", "handed over"
        RETURNED = "returned", "returned"

    class WaitsFor(models.TextChoices):
        NOTHING = "", "nothing"
        PART = "part", "a part"
        STANDARD = "standard", "a standard"
        REVIEWER = "reviewer", "the reviewer"
        OWNER = "owner", "the owner"

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="custody")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    place = models.ForeignKey(Place, models.PROTECT, related_name="+", null=True, blank=True)
    condition = models.TextField(blank=True)
    damaged = models.BooleanField(default=False)
    waits_for = models.CharField(
        max_length=10, choices=WaitsFor.choices, blank=True, default=WaitsFor.NOTHING
    )

    class Meta:
        ordering = ("-at", "-pk")
        indexes = (models.Index(fields=("gauge", "-at"), name="custody_last"),)

    def __str__(self) -> str:
        return f"{self.gauge} {self.get_kind_display()}"
