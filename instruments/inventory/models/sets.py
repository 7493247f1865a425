"""Tables of what belongs together: members of a set, a gauge and its setting master."""

from __future__ import annotations

from django.db import models

from instruments.inventory.models.gauges import Gauge
from labsys.journal.rows import length_field


class Member(models.Model):
    """A piece of a set that is one gauge: a pin of a pin set. Verdicts of its own; withdrawn, not deleted."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="members")
    label = models.CharField(max_length=40)
    nominal_mm = length_field(null=True, blank=True)
    added_at = models.DateTimeField()
    withdrawn_on = models.DateField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("gauge", "nominal_mm", "label")
        constraints = (
            models.UniqueConstraint(
                fields=("gauge", "label"),
                name="member_label_unique",
                violation_error_message="This set already has a member with that label.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.gauge} {self.label}"


class Pairing(models.Model):
    """A gauge and the setting master that belongs to it; the master has a tag of its own."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="pairings")
    master = models.ForeignKey(Gauge, models.PROTECT, related_name="paired_with")
    paired_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("gauge", "master"), condition=models.Q(ended_at=None), name="pairing_open_once"
            ),
            models.CheckConstraint(condition=~models.Q(gauge=models.F("master")), name="pairing_of_two"),
        )

    def __str__(self) -> str:
        return f"{self.gauge} with {self.master}"
