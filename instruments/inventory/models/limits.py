"""Tables of limits: dated sets of lines, of a model or of one gauge. Append-only."""

from __future__ import annotations

from django.db import models

from instruments.inventory.models.gauges import Gauge, GaugeModel
from labsys.journal.rows import DatedRow, length_field


class LimitSet(DatedRow):
    """The limits of error of a model, or of one gauge, from an instant on, with their source."""

    model = models.ForeignKey(GaugeModel, models.PROTECT, null=True, blank=True, related_name="limit_sets")
    gauge = models.ForeignKey(Gauge, models.PROTECT, null=True, blank=True, related_name="limit_sets")
    source = models.CharField(max_length=500)
    confirmed = models.BooleanField(default=False)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(model=None, gauge__isnull=False)
                | models.Q(gauge=None, model__isnull=False),
                name="limit_set_of_one",
                violation_error_message="Limits belong to a model or to one gauge.",
            ),
        )

    def __str__(self) -> str:
        return self.source


class LimitRow(models.Model):
    """One line of a limit set: up to a length, for a function, lower and upper limit; either may be missing."""

    limit_set = models.ForeignKey(LimitSet, models.PROTECT, related_name="rows")
    function = models.CharField(max_length=20)
    up_to_mm = length_field()
    lower_mm = length_field(null=True, blank=True)
    upper_mm = length_field(null=True, blank=True)

    class Meta:
        ordering = ("function", "up_to_mm")
        constraints = (
            models.UniqueConstraint(fields=("limit_set", "function", "up_to_mm"), name="limit_row_once"),
            models.CheckConstraint(
                condition=models.Q(lower_mm__isnull=False) | models.Q(upper_mm__isnull=False),
                name="limit_row_has_limit",
            ),
            models.CheckConstraint(
                condition=models.Q(lower_mm=None)
                | models.Q(upper_mm=None)
                | models.Q(upper_mm__gt=models.F("lower_mm")),
                name="limit_row_ordered",
                violation_error_message="The upper limit must lie above the lower one.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.function} to {self.up_to_mm}"
